"""Nothing outside interlock/clock.py reads time: that is why a recorded show replayed gives the same alarms."""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("interlock", "drivers", "tui")
CLOCK = "interlock/clock.py"
BOARD = "drivers/firmware/"
"""Runs on a microcontroller, which has a clock of its own."""
READS = {
    "now",
    "utcnow",
    "today",
    "time",
    "time_ns",
    "monotonic",
    "monotonic_ns",
    "perf_counter",
    "localtime",
}
OF = {"time", "datetime", "date", "loop"}


def reads_time(source: str) -> list[int]:
    """Lines that import the module `time`, or call for the time by way of `datetime` or an event loop."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if (isinstance(node, ast.Import) and any(a.name == "time" for a in node.names)) or (
            isinstance(node, ast.ImportFrom) and node.module == "time"
        ):
            found.append(node.lineno)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in READS:
            of = node.func.value
            name = getattr(of, "id", getattr(of, "attr", ""))
            called = isinstance(of, ast.Call) and getattr(of.func, "attr", "") in {
                "get_running_loop",
                "get_event_loop",
            }
            if name in OF or called:
                found.append(node.lineno)
    return found


def test_only_the_clock_reads_time() -> None:
    files = [p for package in PACKAGES for p in (ROOT / package).rglob("*.py")]
    assert len(files) > 100, "the test looks in the wrong place"
    found = {
        name
        for p in files
        if not (name := p.relative_to(ROOT).as_posix()).startswith(BOARD)
        and reads_time(p.read_text(encoding="utf-8"))
    }
    assert found == {CLOCK}


def test_the_search_finds_every_way_to_the_time() -> None:
    ways = (
        "import time",
        "import os, time as t",
        "from time import monotonic",
        "datetime.now(UTC)",
        "datetime.datetime.utcnow()",
        "date.today()",
        "loop.time()",
        "asyncio.get_running_loop().time()",
    )
    assert [reads_time(way) for way in ways] == [[1]] * len(ways)
    assert (
        reads_time("self.clock.now_s()\ndatetime.fromtimestamp(x, UTC)\nshow.time\nfrom datetime import time")
        == []
    )
