"""How the desk's cost grows with the houses: 2 to 64, all machines at speed."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from benchmarks._booth import LEAD_S, make_show, new_desk, readings
from benchmarks._row import Growth, cpu_s, interleaved, linearity, run
from benchmarks.desk_readings import SPEED_S, desk_us
from interlock.showfile.show import Show
from interlock.watch.inputs import Input
from interlock.watch.state import Fresh, encode

HOUSES = (2, 4, 8, 16, 32, 64)
STRETCH_S = 30.0
STATES = 20
ROUNDS = 3


def state_ms(show: Show, heard: list[Input]) -> float:
    """ms of processor for one state, made and encoded, as every screen gets it four times a second."""
    desk = new_desk(show)
    for x in heard:
        desk.step(x)
    return cpu_s(lambda: [encode(Fresh(desk.state())) for _ in range(STATES)]) / STATES * 1e3


def measure() -> Iterator[Growth]:
    folds: dict[str, Callable[[], float]] = {}
    states: dict[str, Callable[[], float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for n in HOUSES:
            show = make_show(Path(folder), n)
            heard = readings(show, SPEED_S + STRETCH_S)
            before = [x for x in heard if x.at_s <= SPEED_S + LEAD_S]
            counted = heard[len(before) :]
            a_second = len(counted) / STRETCH_S / 1e3
            folds[str(n)] = lambda s=show, b=before, c=counted, k=a_second: desk_us(s, b, c) * k  # type: ignore[misc]
            states[str(n)] = lambda s=show, h=before: state_ms(s, h)  # type: ignore[misc]
    lines = {
        name: [(float(n), seen.median) for n, seen in interleaved(ways, ROUNDS).items()]
        for name, ways in (("folding a second of show", folds), ("one state for the screens", states))
    }
    fold, state = lines.values()
    yield Growth(
        name="Houses", x="houses", y="ms of processor", lines=lines,
        sentence=f"Folding: {linearity(fold)}. A state: {linearity(state)}. A reading costs the same however many houses there "
        "are; what is paid once a second, whatever the number of houses, weighs on the smallest shows alone.",
    )  # fmt: skip


if __name__ == "__main__":
    run(measure)
