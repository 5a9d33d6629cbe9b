"""Whole seeded shows with their faults, judged against what truly happened: shows a minute on all cores."""

from __future__ import annotations

import resource
import time
from collections.abc import Iterator

from benchmarks._row import Row, Seen, run, seen
from tests.campaign.__main__ import campaign

SHOWS = 80
PARTS = 3
"""The shows are run in so many parts, for the spread."""
WANTED, MINUTES = 10_000, 10.0


def workers_s() -> float:
    """Processor seconds of the processes that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def measure() -> Iterator[Row]:
    rates: list[float] = []
    costs: list[float] = []
    for part in range(PARTS):
        began_s, used_s = time.perf_counter(), workers_s()
        judged = list(campaign([(part * SHOWS + n, "short") for n in range(SHOWS)]))
        rates.append(SHOWS / (time.perf_counter() - began_s) * 60.0)
        costs.append((workers_s() - used_s) / SHOWS * 1e3)
        if len(judged) != SHOWS:
            raise AssertionError(f"{len(judged)} of {SHOWS} shows came back")
    rate = seen(rates)
    minutes = Seen(*(WANTED / r for r in (rate.median, rate.most, rate.least)))
    name = f"campaign, from {PARTS * SHOWS} shows"
    yield Row(
        name=name, unit="shows a minute on all cores", ours=rate, more_is_better=True,
        target=f"at least {WANTED / MINUTES:,.0f}", reached=rate.median >= WANTED / MINUTES, held_back=HELD,
    )  # fmt: skip
    yield Row(
        name=name, unit=f"minutes that {WANTED:,} would take, reckoned from these", ours=minutes,
        target=f"under {MINUTES:.0f}", reached=minutes.median < MINUTES, held_back=HELD,
    )  # fmt: skip
    yield Row(name=name, unit="ms of processor a show", ours=seen(costs))


HELD = (
    "a show costs its simulated machines, the desk's fold and the oracle's second opinion together; the rehearsal's and the "
    "desk's rows are parts of it."
)


if __name__ == "__main__":
    run(measure)
