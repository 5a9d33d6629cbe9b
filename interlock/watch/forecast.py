"""When a limit will be reached, from a drift, its rate and their covariance.

The probability of being over the limit at time t is that of a normal variable whose mean and
variance move with t (reference.md): P(t) = Φ((x + r·t − c) / √(Pxx + 2t·Pxv + t²·Pvv)). The time at which it
is p solves a quadratic. It tends to Φ(r/√Pvv): below p there is no such time, and that is said.

Where speeds wander, the drift diffuses on the way, and what counts is the first passage: for a diffusion s and a rate r it
is inverse Gaussian (reference.md); the rate being uncertain itself, that is averaged over its normal distribution, which
has a closed form for the distribution (:func:`passed`) and none for its quantiles.
"""

from __future__ import annotations

import math
from collections.abc import Callable

Z95 = 1.6448536269514722
"""Φ⁻¹(0.95)."""
LONGEST_S = 1e6
"""What is not reached within eleven days is not bounded."""
HALVINGS = 32

Times = tuple[float, float, float]
"""(5 %, 50 %, 95 %) in seconds."""


def time_to_limit_s(x: float, rate: float, limit: float, pxx: float, pxv: float, pvv: float) -> Times | None:
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


def passed(gap: float, moved: float, var: float, diffused: float) -> float:
    """Probability that ``gap`` (frames, > 0) has been passed, at least once, by now.

    ``moved``: frames that it is believed to have come since, with variance ``var`` of that belief; ``diffused``: variance
    that chance has added on the way. With ``var`` = 0 it is the inverse Gaussian's distribution function
    Φ((ν·t − a)/(s·√t)) + e^(2aν/s²)·Φ(−(ν·t + a)/(s·√t)), and its mean over ν ~ N(moved/t, var/t²) otherwise.
    """
    sd = math.sqrt(var + diffused)
    if sd == 0.0:
        return 1.0 if moved >= gap else 0.0
    over = 0.5 * math.erfc((gap - moved) / sd * _INV_SQRT2)
    if diffused <= 0.0:
        return over
    c = 2.0 * gap / diffused
    back = c * moved + 0.5 * c * c * var + _log_tail((moved + c * var + gap) / sd)
    return min(1.0, over + (math.exp(back) if back < 0.0 else 1.0))


_INV_SQRT2 = math.sqrt(0.5)
_LOG_SQRT_2PI = 0.5 * math.log(2.0 * math.pi)


def _log_tail(z: float) -> float:
    """ln Φ(−z), also where Φ(−z) itself is nothing any more (then by its asymptotic series)."""
    if z < 8.0:
        return math.log(0.5 * math.erfc(z * _INV_SQRT2))
    w = 1.0 / (z * z)
    return -0.5 * z * z - math.log(z) - _LOG_SQRT_2PI + math.log1p(-w * (1.0 - w * (3.0 - 15.0 * w)))


def quantiles_s(reached: Callable[[float], float], about_s: float) -> Times | None:
    """(5 %, 50 %, 95 %) of a time by its distribution function; None where the last is not bounded."""
    early = _when(reached, 0.05, about_s)
    middle = _when(reached, 0.5, about_s)
    late = _when(reached, 0.95, about_s)
    return None if early is None or middle is None or late is None else (early, middle, late)


def _when(reached: Callable[[float], float], p: float, about_s: float) -> float | None:
    low, high = 0.0, max(about_s, 1e-3)
    while reached(high) < p:
        low, high = high, 2.0 * high
        if high > LONGEST_S:
            return None
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if reached(middle) < p:
            low = middle
        else:
            high = middle
    return high
