"""How the desk's cost grows with the readings: counts ten to a thousand times a second from each of four adapters."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from benchmarks._booth import LEAD_S, make_show, readings
from benchmarks._row import Growth, interleaved, linearity, run
from benchmarks.desk_readings import SPEED_S, desk_us
from interlock.signals import Counts
from interlock.watch.inputs import Input

HOUSES = 16
TIMES = (1, 2, 5, 10, 20, 50, 100)
STRETCH_S = 10.0
ROUNDS = 3


def denser(heard: list[Input], times: int, fps: float) -> list[Input]:
    """The same course, its counts told ``times`` as often: between two of them the pulses that lay between."""
    newest: dict[str, Counts] = {}
    told: list[Input] = []
    for x in heard:
        if isinstance(x, Counts):
            before = newest.get(x.adapter)
            newest[x.adapter] = x
            if before is not None:
                told += [between(before, x, n / times, fps) for n in range(1, times)]
        told.append(x)
    return sorted(told, key=lambda x: x.at_s)


def between(a: Counts, b: Counts, share: float, fps: float) -> Counts:
    """What the adapter would have told ``share`` of the way from a to b."""
    fact_s = a.fact_s + share * (b.fact_s - a.fact_s)
    values: list[tuple[str, float, float | None]] = []
    for (signal, frames, pulse_s), (_, last, _) in zip(a.values, b.values, strict=True):
        pulses = 0 if pulse_s is None else min(int((fact_s - pulse_s) * fps), int(last - frames))
        values.append((signal, frames + pulses, None if pulse_s is None else pulse_s + pulses / fps))
    return Counts(a.at_s + share * (b.at_s - a.at_s), fact_s, a.adapter, tuple(values))


def measure() -> Iterator[Growth]:
    ways: dict[str, Callable[[], float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        show = make_show(Path(folder), HOUSES)
    heard = readings(show, SPEED_S + STRETCH_S)
    before = [x for x in heard if x.at_s <= SPEED_S + LEAD_S]
    for times in TIMES:
        counted = denser(heard[len(before) :], times, show.fps)
        a_second = len(counted) / STRETCH_S
        ways[str(a_second)] = lambda c=counted, k=a_second: desk_us(show, before, c) * k / 1e3  # type: ignore[misc]
    points = [(float(x), seen.median) for x, seen in interleaved(ways, ROUNDS).items()]
    yield Growth(
        name="Readings a second", x="readings a second, 16 houses", y="ms of processor a second of show",
        lines={"folding": points},
        sentence=f"Folding: {linearity(points)}. A count without a new pulse in it moves nothing and costs less than one with: "
        "at 24 frames a second there are 24 of those a house, however often they are told. What is judged once a second is the "
        "same for all.",
    )  # fmt: skip


if __name__ == "__main__":
    run(measure)
