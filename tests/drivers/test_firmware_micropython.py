"""The board's own file under real MicroPython (built for WebAssembly, on node), read by the real serial driver."""

from __future__ import annotations

import asyncio
import os
import shutil
import subprocess
import tty
from pathlib import Path

import pytest
from firmware_story import story

from drivers.firmware import board, line
from drivers.serial_line import SerialDriver
from drivers.wire import Hello, Levels, Pulses
from drivers.wire_parser import Parser
from interlock.clock import SystemClock
from interlock.signals import (
    AdapterSpec,
    AnalogWire,
    Contacts,
    CounterWire,
    Counts,
    Presence,
    Reading,
    Wiring,
)

HERE = Path(__file__).parent
PACKAGE = "@micropython/micropython-webassembly-pyscript"
VERSION = "1.27.0"
NODE, NPM = shutil.which("node"), shutil.which("npm")

pytestmark = pytest.mark.skipif(
    not (NODE and NPM), reason="node and npm are not on this machine: no MicroPython to run the firmware on"
)


@pytest.fixture(scope="module")
def arguments(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The command that runs line.py on MicroPython."""
    folder = tmp_path_factory.mktemp("micropython")
    done = subprocess.run(
        f"{NPM} install --prefix . --no-audit --no-fund --ignore-scripts --prefer-offline {PACKAGE}@{VERSION}".split(
            " "
        ),
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    module = folder / "node_modules" / PACKAGE / "micropython.mjs"
    return [
        str(NODE),
        str(HERE / "firmware_node.mjs"),
        str(module),
        str(line.__file__),
        str(HERE / "firmware_story.py"),
    ]


def test_it_says_byte_for_byte_what_it_says_under_cpython(arguments: list[str]) -> None:
    done = subprocess.run(arguments, capture_output=True, text=True, timeout=60, check=True)
    told = [row.split(" ") for row in done.stdout.splitlines()]
    said = [(int(ms), bytes.fromhex(data)) for ms, data in told]
    assert said == story(line)
    parser = Parser()
    assert len(parser.feed(b"".join(data for _, data in said))) == len(said) > 50


def test_main_joins_pins_to_lines_as_the_wiring_page_says(arguments: list[str]) -> None:
    done = subprocess.run([*arguments, "board"], capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    rows = done.stdout.splitlines()
    pins = [row for row in rows if row.startswith("pin ")]
    # trigger 12: both edges; 4: falling. Hard interrupts, and a pull-up for everything that pulls to ground.
    assert [p for p in pins if p.endswith("12 True")] == [f"pin {n} True 12 True" for n in board.LEVELS]
    assert [p for p in pins if p.endswith(" 4 True")] == [f"pin {n} True 4 True" for n in board.COUNTERS]
    assert f"pin {board.SERVICE} True None None" in pins
    parser = Parser()
    lines = parser.feed("".join(r + "\n" for r in rows if not r.startswith("pin ")).encode())
    assert parser.tally.bad == 0
    assert isinstance(lines[0], Hello)
    assert (lines[0].name, lines[0].levels, lines[0].counters) == (board.NAME, 12, 4)
    closed = next(one for one in lines if isinstance(one, Levels) and one.mask)
    assert (closed.mask, closed.tick) == (1, 300), "the first pin is input 0, and low is closed"
    counts = [one for one in lines if isinstance(one, Pulses)][-1]
    assert counts.counters == ((0, 0), (18, 1000), (0, 0), (0, 0)), "at 320, 360 … 1000"


WIRING = Wiring(
    levels={0: "4.run", 1: "4.lamp"},
    counters={0: CounterWire("4.frames")},
    analogs={0: AnalogWire("4>3.arm", 310, 3800)},
)


@pytest.mark.realtime
async def test_the_serial_driver_reads_it_over_a_pty_as_any_adapter(arguments: list[str]) -> None:
    master, slave = os.openpty()
    tty.setraw(slave)
    clock = SystemClock()
    said: list[Reading] = []
    spec = AdapterSpec("north", "serial", {"port": os.ttyname(slave)}, WIRING)
    driver = asyncio.create_task(SerialDriver(spec, clock).run(said.append))
    adapter = await asyncio.create_subprocess_exec(*arguments, "live", stdin=master, stdout=master)
    try:
        async with asyncio.timeout(20):
            while not any(("4.run", True) in r.values for r in said if isinstance(r, Contacts)):
                await clock.sleep_until(clock.now_s() + 0.02)
            await clock.sleep_until(clock.now_s() + 0.6)
    finally:
        driver.cancel()
        await asyncio.gather(driver, return_exceptions=True)
        adapter.kill()
        await adapter.wait()
        os.close(master)
        os.close(slave)
    last = [r for r in said if isinstance(r, Presence)][-1]
    assert (last.state, last.text, last.bad_lines, last.lost_lines) == ("up", "", 0, 0)
    pulses = {(v[1], v[2]) for r in said if isinstance(r, Counts) for v in r.values if v[2] is not None}
    first, latest = min(pulses), max(pulses)
    assert first[1] is not None
    assert latest[1] is not None
    period_s = (latest[1] - first[1]) / (latest[0] - first[0])
    assert period_s == pytest.approx(0.042, abs=0.002), "by the pulses' own times, whatever the line did"
    changes = [r for r in said if isinstance(r, Contacts)]
    closed = next(r for r in changes if ("4.run", True) in r.values)
    assert 0.0 <= closed.at_s - closed.fact_s <= 0.1, "dated by its edge, 5 ms and a way before it came in"
    assert any(abs(v[1]) < 0.01 for r in said if r.__class__.__name__ == "Positions" for v in r.values)
