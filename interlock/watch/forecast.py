"""When a limit will be reached, from a drift, its rate and their covariance.

The probability of being over the limit at time t is that of a normal variable whose mean and
variance move with t (reference.md): P(t) = Φ((x + r·t − c) / √(Pxx + 2t·Pxv + t²·Pvv)). The time at which it
is p solves a quadratic. It tends to Φ(r/√Pvv): below p there is no such time, and that is said.
"""

from __future__ import annotations

import math

Z95 = 1.6448536269514722
"""Φ⁻¹(0.95)."""


def time_to_limit_s(
    x: float, rate: float, limit: float, pxx: float, pxv: float, pvv: float
) -> tuple[float, float, float] | None:
    """(5 %, 50 %, 95 %) seconds until ``limit`` (> x, with ``rate`` > 0 towards it); None where not bounded.

    Lengths in frames, rates in frames per second, (co)variances of the same. A time that has passed is 0.
    """
    gap = limit - x
    if rate <= 0.0 or rate < Z95 * math.sqrt(pvv):
        return None
    if gap <= 0.0:
        return (0.0, 0.0, 0.0)
    late = _solve(gap, rate, Z95, pxx, pxv, pvv)
    early = _solve(gap, rate, -Z95, pxx, pxv, pvv)
    return (early, gap / rate, late)


def _solve(gap: float, rate: float, z: float, pxx: float, pxv: float, pvv: float) -> float:
    # (rate·t − gap)² = z²·(pxx + 2t·pxv + t²·pvv): the later root has rate·t − gap > 0 (z > 0), the earlier < 0.
    z2 = z * z
    a = rate * rate - z2 * pvv
    b = rate * gap + z2 * pxv
    c = gap * gap - z2 * pxx
    root = math.sqrt(max(0.0, b * b - a * c))
    if a <= 0.0:
        return math.inf
    return max(0.0, (b + root) / a if z > 0.0 else (b - root) / a)
