"""Work in counted calls, the same on every computer: what a fixed seed costs in calls of functions, and its recorded bounds.

``python -m tests.tooling.counted_work`` counts anew and writes ``counted_work.json`` for this Python. Do it when a change is
meant to cost what it costs, and say in the commit why; the bound is what was recorded and :data:`ROOM`.
"""

from __future__ import annotations

import gc
import json
import sys
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import FrameType
from typing import Any, TypeAlias

from benchmarks._booth import LEAD_S, SEED, make_show, new_desk
from benchmarks._journal_readings import META
from benchmarks._wire_lines import dated, wire_lines
from drivers.simulator.booth import Booth
from drivers.simulator.scenario import load_scenario
from interlock.journal.schema import GENESIS, meta_to_json
from interlock.journal.sealer import Entry, Sealer
from interlock.journal.store import Store
from interlock.service.booth import sim_spec
from interlock.showfile.show import Show
from interlock.watch.board import layout
from interlock.watch.inputs import Input
from interlock.watch.state import Fresh, Hello, encode
from tui.canvas import changed_span, joined
from tui.draw.banner import draw_banner
from tui.draw.runs import Block
from tui.draw.view import make_view
from tui.look.glyphs import FULL
from tui.model import Model
from tui.screens import Own, draw_screen

Work: TypeAlias = Callable[[], object]

TABLE = Path(__file__).with_suffix(".json")
SCENARIO = Path(__file__).parents[2] / "configs" / "scenarios" / "late-start.toml"
ROOM = 0.03
"""Above what was recorded, before it is a slow-down."""
STRANGE_ROOM = 0.15
"""On a Python for which nothing is recorded: another one counts a comprehension or a built-in differently."""
COMMAND = "python -m tests.tooling.counted_work"
HOUSES, UNTIL_S = 16, 60.0
LINES = 1_000
BATCH_S = 0.1
COLUMNS, ROWS = 200, 54


def calls(prepare: Callable[[], Work]) -> int:
    """Calls of functions, Python's own and built-in ones, in what ``prepare`` gives; the second time, with caches filled."""
    count = 0

    def heard(frame: FrameType, event: str, arg: Any) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    for _ in range(2):
        work = prepare()
        count = 0
        gc.collect()
        gc.disable()  # a finalizer is called when it happens to be
        before = sys.getprofile()
        sys.setprofile(heard)
        try:
            work()
        finally:
            sys.setprofile(before)
            gc.enable()
    return count


@cache
def the_show() -> Show:
    """Sixteen houses, four adapters."""
    with tempfile.TemporaryDirectory() as folder:
        return make_show(Path(folder), HOUSES)


def the_booth() -> Booth:
    """One of its machines starts late."""
    return Booth(sim_spec(the_show()), SEED, load_scenario(str(SCENARIO)), base_s=LEAD_S, begin_s=-LEAD_S)


@cache
def the_readings() -> tuple[Input, ...]:
    """All machines start, one late, and run for a while."""
    return tuple(the_booth().advance(UNTIL_S))


def simulated() -> Work:
    booth = the_booth()
    return lambda: booth.advance(UNTIL_S)


def folded() -> Work:
    desk = new_desk(the_show())

    def fold() -> None:
        for x in the_readings():
            desk.step(x)

    return fold


def parsed() -> Work:
    heard = wire_lines(LINES)
    return lambda: dated(heard)


@cache
def states() -> tuple[Hello, Fresh]:
    """Two that follow each other by a second, as a screen gets them."""
    desk = new_desk(the_show())
    made = []
    for until_s in (LEAD_S + UNTIL_S - 1.0, LEAD_S + UNTIL_S):
        for x in the_readings():
            if x.at_s <= until_s:
                desk.step(x)
        made.append(desk.state())
    return Hello(layout(the_show(), rehearsal=True), made[0]), Fresh(made[1])


def told() -> Work:
    desk = new_desk(the_show())
    for x in the_readings():
        desk.step(x)
    return lambda: encode(Fresh(desk.state()))


def painted() -> Work:
    """A state comes in, the board is drawn anew, and what differs is looked for and made into runs."""
    hello, fresh = states()
    model, own = Model(), Own()

    def draw(now_s: float) -> Block:
        state = model.newest()
        assert state is not None
        view = make_view(hello.layout, state, g=FULL, age_s=model.age_s(now_s))
        return draw_banner(view, COLUMNS) + draw_screen("board", view, model, own, COLUMNS, ROWS)

    model.take(hello, 0.0)
    shown = draw(0.0)

    def paint() -> None:
        model.take(fresh, 1.0)
        for old, new in zip(shown, draw(1.0), strict=True):
            if old != new and changed_span(old, new) is not None:
                joined(new)

    return paint


def recorded() -> Work:
    """What came in during 100 ms, and the lines that it brought: sealed, and into the file."""
    desk = new_desk(the_show())
    entries: list[Entry] = []
    for x in the_readings():
        lines = desk.step(x)
        if x.at_s > LEAD_S + UNTIL_S - BATCH_S:
            entries.append((x, lines))

    def write() -> None:
        with tempfile.TemporaryDirectory() as folder:
            sealer = Sealer(lambda: META.started_wall_s, 0, GENESIS, 0)
            store = Store.create(Path(folder) / "a.record", sealer.seal("start", note=meta_to_json(META)))
            store.write([*sealer.seal_all(entries), sealer.seal("end")])
            store.finish(1.0)

    return write


WORKS: dict[str, Callable[[], Work]] = {
    "simulated machines, a show of sixteen houses": simulated,
    "desk, the same show folded": folded,
    "wire, 1,000 lines parsed and dated": parsed,
    "desk, a state made and encoded": told,
    "board, one paint": painted,
    "record, one batch from an empty file to its end": recorded,
}
PARTS = {
    "simulated machines, a show of sixteen houses": lambda: len(the_readings()),
    "desk, the same show folded": lambda: len(the_readings()),
    "wire, 1,000 lines parsed and dated": lambda: LINES,
}
"""What is stated a reading, or a line."""


def counted(name: str) -> float:
    """Calls of that work; a reading, or a line, where it has many."""
    return round(calls(WORKS[name]) / PARTS.get(name, lambda: 1)(), 3)


def this_python() -> str:
    """As the table has it."""
    return f"{sys.version_info.major}.{sys.version_info.minor}"


def bound(name: str, table: dict[str, dict[str, float]]) -> float:
    """The most that this work may cost here; of a Python that is not in the table, from the newest that is."""
    if (own := table.get(this_python())) is not None:
        return own[name] * (1.0 + ROOM)
    newest = max(table, key=lambda version: tuple(map(int, version.split("."))))
    return table[newest][name] * (1.0 + STRANGE_ROOM)


def slow_down(name: str, now: float, table: dict[str, dict[str, float]]) -> str | None:
    """What is wrong, with its remedy; None while it is within its bound."""
    most = bound(name, table)
    if now <= most:
        return None
    remedy = f"If the change is meant to cost that, record it anew: {COMMAND}"
    return f"{name}: {now:,.1f} calls, at most {most:,.1f} are wanted. {remedy}"


def read_table() -> dict[str, dict[str, float]]:
    """Version of Python → work → calls."""
    table: dict[str, dict[str, float]] = json.loads(TABLE.read_text(encoding="utf-8"))
    return table


def main() -> None:
    """Count anew; what was recorded on other Pythons stays."""
    table = read_table() if TABLE.exists() else {}
    before = table.get(this_python(), {})
    table[this_python()] = {name: counted(name) for name in WORKS}
    for name, now in table[this_python()].items():
        print(f"{name}: {before.get(name, float('nan')):,.1f} → {now:,.1f} calls")
    TABLE.write_text(json.dumps(dict(sorted(table.items())), indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
