"""A million simulated shows of sixteen houses against the plain numpy script that one would write in ten lines.

Fails (exit 1) if the program is slower than the script, or if the two do not agree.
"""

from __future__ import annotations

import resource
import sys
import time

import numpy as np

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


def main() -> int:
    times: dict[str, list[float]] = {"longlace": [], "plain numpy": []}
    found: dict[str, tuple[float, float]] = {}
    peak_mb: dict[str, float] = {}
    for _ in range(3):
        for name, f in (("longlace", ours), ("plain numpy", plain)):
            start = time.perf_counter()
            found[name] = f()
            times[name].append(time.perf_counter() - start)
            peak_mb.setdefault(name, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)
    print(f"{SHOWS:,} shows of {HOUSES} houses        time   start holds   run holds   memory so far")
    for name, took in times.items():
        print(
            f"{name:<30} {min(took):6.2f} s   {found[name][0]:.5f}      {found[name][1]:.5f}     {peak_mb[name]:6.0f} MB"
        )
    agree = all(abs(a - b) < 0.003 for a, b in zip(found["longlace"], found["plain numpy"], strict=True))
    return int(not agree or min(times["longlace"]) > min(times["plain numpy"]))


if __name__ == "__main__":
    sys.exit(main())
