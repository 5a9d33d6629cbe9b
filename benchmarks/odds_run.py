"""A million simulated shows of sixteen houses against the plain numpy script that one would write in ten lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from benchmarks._row import Row, beside, cpu_s, interleaved, run
from interlock.plan.odds_run import simulate
from interlock.showfile.show import House, Link, Part, Show

SHOWS, HOUSES, FPS, PATH_FR, RUN_FR = 1_000_000, 16, 24.0, 1200.0, 144_000
SCATTER_S, TOLERANCE, LIMIT_FR = 0.4, 5e-5, 48.0


def plain() -> tuple[float, float]:
    """Crystal machines: drift at the start and at each link's release, all at once."""
    rng = np.random.default_rng(0)
    late_s = rng.normal(0.0, SCATTER_S, (SHOWS, HOUSES))
    rate = rng.normal(0.0, TOLERANCE, (SHOWS, HOUSES))
    start_fr = FPS * np.diff(late_s, axis=1)
    after_fr = RUN_FR + PATH_FR * np.arange(HOUSES - 1)
    end_fr = start_fr - after_fr * np.diff(rate, axis=1)
    start = (np.abs(start_fr) <= LIMIT_FR).all(axis=1)
    return float(start.mean()), float((start & (np.abs(end_fr) <= LIMIT_FR).all(axis=1)).mean())


def ours() -> tuple[float, float]:
    houses = tuple(
        House(
            str(k),
            str(k),
            motor="crystal",
            speed_tolerance=TOLERANCE,
            start_scatter_s=SCATTER_S,
            ramp_scatter_s=0.0,
        )
        for k in range(HOUSES)
    )
    links = tuple(
        Link(str(k), str(k + 1), PATH_FR, tight_fr=LIMIT_FR, spill_fr=LIMIT_FR) for k in range(HOUSES - 1)
    )
    part = Part("feature", "feature", RUN_FR, 0)
    odds = simulate(Show("bench", "35mm-4p", FPS, 0.0, "UTC", 0.0, (part,), houses, links), SHOWS, seed=0)
    return odds.start_holds, odds.run_holds


def measure() -> Iterator[Row]:
    found: dict[str, tuple[float, float]] = {}

    def timed(name: str, odds: Callable[[], tuple[float, float]]) -> Callable[[], float]:
        def once() -> float:
            return cpu_s(lambda: found.update({name: odds()}))

        return once

    took = interleaved({"ours": timed("ours", ours), "plain": timed("plain", plain)}, 3)
    if not all(abs(a - b) < 0.003 for a, b in zip(found["ours"], found["plain"], strict=True)):
        raise AssertionError(f"the two do not agree: {found}")
    yield beside(
        f"odds by simulation, {SHOWS:,} shows × {HOUSES} houses",
        "s",
        took["ours"],
        "a plain numpy script",
        took["plain"],
        at_least=1.0,
        target="no slower",
    )


if __name__ == "__main__":
    run(measure)
