"""What a screen costs: the share of a core, of the real board on a real pty at four paints a second, 16 and 64 houses.

A desk rehearses at the speed of life, the print is on picture in every house, and two screens of 200 × 60 hang on it at
the same time: ``longlace attach``, and the same board composed of labels. Processor time of each process, all threads.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks._pty_desk import OnTerminal, RehearsedDesk, drain, show_text
from benchmarks._row import Row, run, seen
from interlock.watch.state import State

WINDOWS, WINDOW_S = 4, 5.0
SETTLE_S = 5.0
AIM = {16: 8.0, 64: 17.0}


def on_picture(state: State) -> bool:
    """Picture in the gate of every house."""
    return all(h.phase == "picture" for h in state.houses)


def shares(houses: int) -> tuple[list[float], list[float]]:
    """Percent of a core in each window: ours, the labels'."""
    with (
        tempfile.TemporaryDirectory() as name,
        RehearsedDesk(Path(name), show_text(houses), speed=30.0) as desk,
    ):
        desk.until(on_picture, action="speed", x=1.0)
        show = str(desk.show)
        with (
            OnTerminal(["-m", "interlock.cli", "attach", show], desk.env) as ours,
            OnTerminal(["-m", "benchmarks._pty_labels", show], desk.env) as labels,
        ):
            drain([ours, labels], SETTLE_S)
            got: dict[OnTerminal, list[float]] = {ours: [], labels: []}
            for _ in range(WINDOWS):
                before = {screen: (screen.cpu_s(), screen.drained) for screen in got}
                drain([ours, labels], WINDOW_S)
                for screen, (cpu_s, drained) in before.items():
                    if screen.drained == drained:
                        raise AssertionError(f"a screen paints nothing: {screen.last[-400:]!r}")
                    got[screen].append(100.0 * (screen.cpu_s() - cpu_s) / WINDOW_S)
            return got[ours], got[labels]


def measure() -> Iterator[Row]:
    for houses, aim in AIM.items():
        ours, labels = (seen(x) for x in shares(houses))
        yield Row(
            name=f"screen at 4 Hz, {houses} houses, 200×60", unit="% of a core", ours=ours,
            peer="the same board of labels", theirs=labels, target=f"under half of it (aim: {aim:g} %)",
            reached=ours.median < labels.median / 2.0,
        )  # fmt: skip


if __name__ == "__main__":
    run(measure)
