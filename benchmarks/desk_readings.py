"""What a reading costs the desk, 4 and 64 houses, beside a filterpy Kalman filter a house that only estimates.

The readings are those of simulated machines at speed: counts ten times and contacts four times a second from an adapter of
four houses. The desk folds them all, judges every alarm and says its lines; the filter, with position and speed as its state,
takes each house's count out of the same readings and has nothing to do with the contacts.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from filterpy.kalman import KalmanFilter

from benchmarks._booth import LEAD_S, make_show, new_desk, readings
from benchmarks._row import Row, Seen, beside, cpu_s, interleaved, run
from interlock.showfile.show import Show
from interlock.signals import Counts
from interlock.watch.inputs import Input

SPEED_S = 60.0
"""From this plan time on all machines are at speed; what comes before is folded and not counted."""
STRETCH_S = {4: 480.0, 64: 30.0}
"""The same number of readings for both."""
ROUNDS = 5
MOST = 1.3
"""64 houses may cost this many times a reading of 4 houses."""


def desk_us(show: Show, before: list[Input], counted: list[Input]) -> float:
    """µs of processor a reading."""
    desk = new_desk(show)
    for x in before:
        desk.step(x)
    lines = 0

    def fold() -> None:
        nonlocal lines
        for x in counted:
            lines += len(desk.step(x))

    took = cpu_s(fold)
    if lines < len(show.houses):
        raise AssertionError("the desk said nothing: it did not judge")
    return took / len(counted) * 1e6


def new_filter(fps: float) -> KalmanFilter:
    """Frame and speed, a count for a measurement."""
    kalman = KalmanFilter(dim_x=2, dim_z=1)
    kalman.x = np.array([0.0, fps])
    kalman.F = np.array([[1.0, 0.0], [0.0, 1.0]])
    kalman.H = np.array([[1.0, 0.0]])
    kalman.P = np.diag([100.0, 1.0])
    kalman.Q = np.diag([1e-4, 1e-6])
    kalman.R = np.array([[1.0 / 12.0]])
    return kalman


def filters_us(show: Show, before: list[Input], counted: list[Input]) -> float:
    """The same, a filter a house."""
    filters = {f"{h.id}.frames": new_filter(show.fps) for h in show.houses}
    dated = dict.fromkeys(filters, 0.0)

    def take(inputs: list[Input]) -> None:
        for x in inputs:
            if isinstance(x, Counts):
                for signal, frames, pulse_s in x.values:
                    if pulse_s is None:
                        continue
                    kalman = filters[signal]
                    kalman.F[0, 1] = pulse_s - dated[signal]
                    dated[signal] = pulse_s
                    kalman.predict()
                    kalman.update(frames)

    take([x for x in before if x.at_s > SPEED_S + LEAD_S - 5.0])
    took = cpu_s(lambda: take(counted))
    speeds = [float(k.x[1]) for k in filters.values()]
    if not all(abs(v - show.fps) < 1.0 for v in speeds):
        raise AssertionError(f"the filters estimate nothing: {speeds}")
    return took / len(counted) * 1e6


def measure() -> Iterator[Row]:
    ways: dict[str, Callable[[], float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for houses, stretch_s in STRETCH_S.items():
            show = make_show(Path(folder), houses)
            heard = readings(show, SPEED_S + stretch_s)
            before = [x for x in heard if x.at_s <= SPEED_S + LEAD_S]
            counted = heard[len(before) :]
            for name, way in (("desk", desk_us), ("filters", filters_us)):
                ways[f"{name} {houses}"] = lambda s=show, b=before, c=counted, w=way: w(s, b, c)  # type: ignore[misc]
    found = interleaved(ways, ROUNDS)
    for houses in STRETCH_S:
        yield beside(
            f"desk, {houses} houses", "µs a reading", found[f"desk {houses}"], "filterpy, a filter a house",
            found[f"filters {houses}"], at_least=3.0, target="a third of its time",
            held_back=SECONDS,
        )  # fmt: skip
        yield a_second(houses, found[f"desk {houses}"], found[f"filters {houses}"])
    yield beside(
        "desk, 64 houses beside 4", "µs a reading", found["desk 64"], "the desk, 4 houses", found["desk 4"],
        at_least=1 / MOST, target=f"at most {MOST} times its cost", held_back=SECONDS,
    )  # fmt: skip


SECONDS = (
    "half of a reading's share is the round in which once a second every house and link is judged and told, heard of or not; a "
    "filter has none."
)


def a_second(houses: int, ours: Seen, theirs: Seen) -> Row:
    """The same as readings a second of processor."""
    fast, other = (Seen(1e6 / s.median, 1e6 / s.most, 1e6 / s.least) for s in (ours, theirs))
    return beside(
        f"desk, {houses} houses", "readings/s of one core", fast, "filterpy, a filter a house", other,
        at_least=None, more_is_better=True,
    )  # fmt: skip


if __name__ == "__main__":
    run(measure)
