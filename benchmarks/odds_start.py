"""The exact odds of a start against scipy's multivariate normal, 2 to 16 houses: time and error.

Fails (exit 1) if the chain recursion is slower anywhere, or off by more than 1e-9 where reference.md has a row.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.stats import multivariate_normal

from interlock.plan.odds_exact import Lateness, chain_holds

# [C] reference.md, s = 0.5, c = 2.0
ROWS = {2: 0.995322265, 4: 0.986678534, 8: 0.969608110, 16: 0.936348147}


def best_of(f: Callable[[], float], times: int) -> tuple[float, float]:
    """The least time in seconds, and what came out."""
    took = []
    value = 0.0
    for _ in range(times):
        start = time.perf_counter()
        value = f()
        took.append(time.perf_counter() - start)
    return min(took), value


def main() -> int:
    bad = False
    print("houses   recursion      error   multivariate normal      error   times faster")
    for n, want in ROWS.items():
        machines, limits = [Lateness(0.0, 0.5)] * n, [2.0] * (n - 1)
        ours_s, ours = best_of(lambda m=machines, c=limits: chain_holds(m, c, c), 9)  # type: ignore[misc]
        apart = np.diff(np.eye(n), axis=0)
        normal = multivariate_normal(np.zeros(n - 1), 0.25 * apart @ apart.T, maxpts=2_000_000, abseps=1e-5)
        peer_s, peer = best_of(
            lambda d=normal, c=limits: float(d.cdf(c, lower_limit=[-x for x in c])),  # type: ignore[misc]
            3,
        )
        print(
            f"{n:>6}  {ours_s * 1e3:8.2f} ms  {abs(ours - want):9.1e}   {peer_s * 1e3:13.2f} ms     "
            f"{abs(peer - want):9.1e}   {peer_s / ours_s:8.1f}"
        )
        bad |= ours_s > peer_s or abs(ours - want) > 1e-9
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
