"""Confidence intervals without a statistics library: Student's t and chi-square by the regularised beta and gamma functions.

Continued fractions and series as in every handbook of numerical methods; the tests hold them to an independent library.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import msgspec

_EPS = 1e-15
_TINY = 1e-300


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Lentz's continued fraction of the incomplete beta function."""
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > _TINY else _TINY)
    h = d
    for m in range(1, 500):
        for top in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1.0 + top * d
            d = 1.0 / (d if abs(d) > _TINY else _TINY)
            c = 1.0 + top / c
            c = c if abs(c) > _TINY else _TINY
            h *= d * c
        if abs(d * c - 1.0) < _EPS:
            break
    return h


def beta_cdf(x: float, a: float, b: float) -> float:
    """The regularised incomplete beta function I_x(a, b), 0 ≤ x ≤ 1."""
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(a, b, x) / a
    return 1.0 - front * _beta_fraction(b, a, 1.0 - x) / b


def t_cdf(t: float, dof: float) -> float:
    """Student's t with ``dof`` degrees of freedom."""
    tail = 0.5 * beta_cdf(dof / (dof + t * t), dof / 2.0, 0.5)
    return 1.0 - tail if t > 0 else tail


def chi2_cdf(x: float, dof: float) -> float:
    """Chi-square with ``dof`` degrees of freedom: the regularised lower incomplete gamma function."""
    if x <= 0.0:
        return 0.0
    a, z = dof / 2.0, x / 2.0
    front = math.exp(a * math.log(z) - z - math.lgamma(a))
    if z < a + 1.0:
        term = total = 1.0 / a
        n = a
        while abs(term) > abs(total) * _EPS:
            n += 1.0
            term *= z / n
            total += term
        return front * total
    b = z + 1.0 - a
    c, d = 1.0 / _TINY, 1.0 / b
    h = d
    for i in range(1, 1000):
        an = -i * (i - a)
        b += 2.0
        d = an * d + b
        d = 1.0 / (d if abs(d) > _TINY else _TINY)
        c = b + an / c
        c = c if abs(c) > _TINY else _TINY
        h *= d * c
        if abs(d * c - 1.0) < _EPS:
            break
    return 1.0 - front * h


def _quantile(cdf: Callable[[float], float], p: float, low: float, high: float) -> float:
    """By halving: exact to the last few digits, and never astray."""
    while cdf(high) < p:
        low, high = high, 2.0 * high
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if cdf(middle) < p else (low, middle)
    return 0.5 * (low + high)


def t_quantile(p: float, dof: float) -> float:
    """Where Student's t reaches ``p`` (0 < p < 1)."""
    if p < 0.5:
        return -t_quantile(1.0 - p, dof)
    return 0.0 if p == 0.5 else _quantile(lambda t: t_cdf(t, dof), p, 0.0, 2.0)


def chi2_quantile(p: float, dof: float) -> float:
    """Where chi-square reaches ``p`` (0 < p < 1)."""
    return _quantile(lambda x: chi2_cdf(x, dof), p, 0.0, dof + 2.0)


_IN_S = ("mean", "low", "high", "scatter", "scatter_low", "scatter_high")


class Estimate(msgspec.Struct, frozen=True, rename={name: f"{name}_s" for name in _IN_S}):
    """A mean and a scatter (1-sigma) with intervals at ``confidence``, in seconds (``mean_s`` in JSON). Scatter needs two."""

    n: int
    mean: float
    low: float | None
    high: float | None
    scatter: float | None
    scatter_low: float | None
    scatter_high: float | None
    confidence: float


def estimate(values: Sequence[float], confidence: float = 0.95) -> Estimate:
    """Of a normal sample of at least one value: t for the mean, chi-square for the scatter."""
    n = len(values)
    mean = math.fsum(values) / n
    if n < 2:
        return Estimate(n, mean, None, None, None, None, None, confidence)
    ss = math.fsum((v - mean) ** 2 for v in values)
    tail = (1.0 - confidence) / 2.0
    s = math.sqrt(ss / (n - 1))
    half = t_quantile(1.0 - tail, n - 1) * s / math.sqrt(n)
    return Estimate(
        n=n,
        mean=mean,
        low=mean - half,
        high=mean + half,
        scatter=s,
        scatter_low=math.sqrt(ss / chi2_quantile(1.0 - tail, n - 1)),
        scatter_high=math.sqrt(ss / chi2_quantile(tail, n - 1)),
        confidence=confidence,
    )


def starts_needed(scatter: float, within: float, confidence: float = 0.95) -> int:
    """The least number of starts with which the mean's interval is no wider than ± ``within``, if the scatter is as given."""
    tail = (1.0 - confidence) / 2.0
    n = 2
    while n < 10_000 and t_quantile(1.0 - tail, n - 1) * scatter / math.sqrt(n) > within:
        n += 1
    return n


def outliers(values: Sequence[float], alpha: float = 0.001) -> list[int]:
    """Places of values that a normal sample of that size would hold once in 1/alpha samples (Grubbs' two-sided test).

    The furthest is taken out and the rest tested again, a quarter of them at the most; at least five values are needed.
    """
    left = list(range(len(values)))
    found: list[int] = []
    most = len(values) // 4
    while len(found) < most and len(left) >= 5:
        n = len(left)
        mean = math.fsum(values[i] for i in left) / n
        s = math.sqrt(math.fsum((values[i] - mean) ** 2 for i in left) / (n - 1))
        if s == 0.0:
            break
        worst = max(left, key=lambda i: abs(values[i] - mean))
        t = t_quantile(1.0 - alpha / (2.0 * n), n - 2)
        limit = (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))
        if abs(values[worst] - mean) / s <= limit:
            break
        found.append(worst)
        left.remove(worst)
    return sorted(found)
