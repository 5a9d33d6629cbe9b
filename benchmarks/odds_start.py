"""The exact odds of a start, sixteen houses, against scipy's multivariate normal: time, and distance from the check value."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from scipy.stats import multivariate_normal

from benchmarks._row import Row, beside, cpu_s, interleaved, run, seen
from interlock.plan.odds_exact import Lateness, chain_holds

HOUSES = 16
WANT = 0.936348147
"""[C] reference.md, s = 0.5, c = 2.0, given to nine digits: nothing here can be closer than half of the last."""
LAST_DIGIT = 5e-10
EXACT = 1e-9
ROUNDS = 2


def measure() -> Iterator[Row]:
    machines, limits = [Lateness(0.0, 0.5)] * HOUSES, [2.0] * (HOUSES - 1)
    apart = np.diff(np.eye(HOUSES), axis=0)
    normal = multivariate_normal(np.zeros(HOUSES - 1), 0.25 * apart @ apart.T, maxpts=2_000_000, abseps=1e-5)
    errors: dict[str, list[float]] = {"ours": [], "theirs": []}

    def timed(name: str, odds: Callable[[], float]) -> Callable[[], float]:
        def once() -> float:
            value: list[float] = []
            took = cpu_s(lambda: value.append(odds()))
            errors[name].append(max(abs(value[0] - WANT), LAST_DIGIT))
            return took * 1e3

        return once

    found = interleaved(
        {
            "ours": timed("ours", lambda: chain_holds(machines, limits, limits)),
            "theirs": timed("theirs", lambda: float(normal.cdf(limits, lower_limit=[-x for x in limits]))),
        },
        ROUNDS,
    )
    peer = "scipy multivariate normal"
    yield beside(
        f"odds of a start, {HOUSES} houses", "ms", found["ours"], peer, found["theirs"], at_least=1.0
    )
    off = {name: seen([e * 1e9 for e in each]) for name, each in errors.items()}
    row = beside(
        f"odds of a start, {HOUSES} houses",
        "error, 1e-9",
        off["ours"],
        peer,
        off["theirs"],
        at_least=1.0,
        target="at most 1, and closer",
    )
    if off["ours"].most > EXACT * 1e9:
        raise AssertionError(f"the recursion is off by {off['ours'].most} e-9: this is no question of speed")
    yield row


if __name__ == "__main__":
    run(measure)
