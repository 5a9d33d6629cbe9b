"""A show of two hours on sixteen simulated machines as fast as it goes, its record kept, beside simpy models of the machines.

Counters at 10 Hz, contacts; no arms. Ours moves the machines with their faults and scatter, emulates four adapters to the
debounce, folds and judges every reading, and writes the record (synchronous FULL). The models move machines at constant
speed and give a reading for every ``CT`` line. In one a machine's event is the pulse of every frame, which is what a counter
counts and a ``CT`` line dates; in the other a machine moves ten times a second.
"""

from __future__ import annotations

import contextlib
import io
import logging
import tempfile
import time
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import simpy

from benchmarks._booth import AN_ADAPTER, SEED, write_show
from benchmarks._row import Row, Seen, beside, run, seen
from interlock.journal import Record
from interlock.service.config import Config
from interlock.service.in_process import rehearse_summed_up
from interlock.signals import Counts

HOUSES = 16
FEATURE_S = 6_000
"""With the film between the houses and the tail it makes two hours."""
MODEL_S = 7_200.0
COUNTS_S = 0.1
ROUNDS = 2
LEAST, AIM = 600.0, 1_000.0


def rehearse(show: Path, record: Path) -> None:
    """As ``longlace rehearse SHOW --speed max --journal FILE``."""
    config = Config(show=str(show), journal=str(record), rehearsal=True, speed=0.0, seed=SEED)
    said = io.StringIO()
    with contextlib.redirect_stderr(said):
        code = rehearse_summed_up(config, lambda text: None)
    if code != 0:
        raise AssertionError(said.getvalue())


def told(record: Path) -> tuple[float, int]:
    """Simulated seconds, and ``CT`` lines in the record."""
    with Record.open(record) as kept:
        inputs = [x for _, x in kept.inputs()]
    return inputs[-1].at_s - inputs[0].at_s, sum(isinstance(x, Counts) for x in inputs)


class Model:
    """Machines and adapters in simpy."""

    def __init__(self, tick_s: float, frames: float) -> None:
        self.env = simpy.Environment()
        self.frames = [0.0] * HOUSES
        self.pulse_s = [0.0] * HOUSES
        self.readings = 0
        for k in range(HOUSES):
            self.env.process(self._machine(k, tick_s, frames))
        for first in range(0, HOUSES, AN_ADAPTER):
            self.env.process(self._adapter(range(first, first + AN_ADAPTER)))

    def _machine(self, k: int, tick_s: float, frames: float) -> Generator[Any, Any, None]:
        env = self.env
        while True:
            yield env.timeout(tick_s)
            self.frames[k] += frames
            self.pulse_s[k] = env.now

    def _adapter(self, houses: range) -> Generator[Any, Any, None]:
        env = self.env
        while True:
            yield env.timeout(COUNTS_S)
            values = tuple((f"{k}.frames", self.frames[k], self.pulse_s[k]) for k in houses)
            self.take(Counts(env.now, env.now, "a", values))

    def take(self, reading: Counts) -> None:
        self.readings += 1


def model(tick_s: float, frames: float) -> None:
    """Two hours of it."""
    made = Model(tick_s, frames)
    made.env.run(until=MODEL_S)
    if abs(made.readings - MODEL_S / COUNTS_S * HOUSES / AN_ADAPTER) > HOUSES:
        raise AssertionError(f"{made.readings} readings")


def measure() -> Iterator[Row]:
    logging.disable(logging.CRITICAL)
    life: dict[str, list[float]] = {"ours": [], "pulses": [], "ticks": []}
    used: dict[str, list[float]] = {name: [] for name in life}

    def keep(name: str, simulated_s: float, wall_s: float, cpu_s: float) -> None:
        life[name].append(simulated_s / wall_s)
        used[name].append(simulated_s / cpu_s)

    with tempfile.TemporaryDirectory() as folder:
        show = write_show(Path(folder), HOUSES, FEATURE_S)
        for n in range(ROUNDS):
            record = Path(folder) / f"{n}.record"
            wall, cpu = time.perf_counter(), time.process_time()
            rehearse(show, record)
            wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
            simulated_s, lines = told(record)
            expected = simulated_s / COUNTS_S * HOUSES / AN_ADAPTER
            if abs(lines / expected - 1.0) > 0.01:
                raise AssertionError(f"{lines:,} CT readings in {simulated_s:.0f} s, not one a line")
            keep("ours", simulated_s, wall, cpu)
            for name, tick_s, frames in (("pulses", 1 / 24, 1.0), ("ticks", COUNTS_S, 2.4)):
                wall, cpu = time.perf_counter(), time.process_time()
                model(tick_s, frames)
                keep(name, MODEL_S, time.perf_counter() - wall, time.process_time() - cpu)
    name = f"rehearsal at --speed max, 2 h, {HOUSES} houses, record on"
    ours = seen(life["ours"])
    yield Row(
        name=name, unit="× life", ours=ours, more_is_better=True, target=f"at least {LEAST:.0f} (aim: {AIM:,.0f})",
        reached=ours.median >= LEAST, held_back=HELD,
    )  # fmt: skip
    yield ahead(name, "× life", ours, "simpy, an event a pulse", seen(life["pulses"]), 1.0)
    yield ahead(name, "× life", ours, "simpy, ten ticks a second", seen(life["ticks"]), None)
    yield ahead(
        name,
        "× life by processor time",
        seen(used["ours"]),
        "simpy, an event a pulse",
        seen(used["pulses"]),
        None,
    )


def ahead(name: str, unit: str, ours: Seen, peer: str, theirs: Seen, at_least: float | None) -> Row:
    return beside(
        name, unit, ours, peer, theirs, at_least=at_least, more_is_better=True,
        held_back=f"the model moves a number and judges nothing; of the rest: {HELD}",
    )  # fmt: skip


HELD = (
    "under a profiler two thirds are the desk's fold, half of it the round in which once a second every house and link is judged "
    "and told; a seventh moves the machines and emulates their adapters; the rest is the bus, the hand-over and the record."
)


if __name__ == "__main__":
    run(measure)
