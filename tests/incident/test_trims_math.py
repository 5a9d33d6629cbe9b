"""Intervals: against an independent library, and against their own promise."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from interlock.incident.trims_math import (
    chi2_quantile,
    estimate,
    outliers,
    starts_needed,
    t_quantile,
)


@settings(max_examples=60)
@given(st.floats(1e-4, 1 - 1e-4), st.integers(1, 400))
def test_quantiles_are_those_of_an_independent_library(p: float, dof: int) -> None:
    """[C] scipy.stats.t and chi2."""
    assert t_quantile(p, dof) == pytest.approx(float(stats.t.ppf(p, dof)), rel=1e-8, abs=1e-10)
    assert chi2_quantile(p, dof) == pytest.approx(float(stats.chi2.ppf(p, dof)), rel=1e-8, abs=1e-12)


def test_quantiles_of_printed_tables() -> None:
    """[M] Tables in every statistics textbook: t(0.975) 12.706, 2.262, 2.045 for 1, 9, 29; chi-square(0.95) 3.841, 16.919."""
    assert [round(t_quantile(0.975, n), 3) for n in (1, 9, 29)] == [12.706, 2.262, 2.045]
    assert [round(chi2_quantile(0.95, n), 3) for n in (1, 9)] == [3.841, 16.919]


def test_an_estimate_is_what_the_library_says_of_the_same_sample() -> None:
    """[C] scipy: the t interval of the mean, and the chi-square interval of the variance by hand."""
    sample = [0.31, 0.12, 0.44, 0.27, 0.19, 0.35]
    e = estimate(sample)
    low, high = stats.t.interval(0.95, 5, loc=np.mean(sample), scale=stats.sem(sample))
    assert (e.low, e.high) == (pytest.approx(low), pytest.approx(high))
    ss = 5 * np.var(sample, ddof=1)
    assert e.scatter_low == pytest.approx(math.sqrt(ss / stats.chi2.ppf(0.975, 5)))
    assert e.scatter_high == pytest.approx(math.sqrt(ss / stats.chi2.ppf(0.025, 5)))


def test_one_value_has_a_mean_and_no_scatter() -> None:
    e = estimate([0.4])
    assert (e.mean, e.low, e.scatter, e.scatter_high) == (0.4, None, None, None)


def test_the_intervals_hold_at_the_stated_rate_over_twenty_thousand_samples() -> None:
    """Binomial bound: 20,000 samples at 95 % lie within 4 sigma of 0.95, that is ± 0.0062."""
    rng = np.random.default_rng(11)
    x = rng.normal(0.3, 0.2, (20_000, 6))
    mean, s = x.mean(axis=1), x.std(axis=1, ddof=1)
    half = t_quantile(0.975, 5) * s / math.sqrt(6)
    assert np.mean(np.abs(mean - 0.3) <= half) == pytest.approx(0.95, abs=0.0062)
    ss = 5 * s**2
    inside = (ss / chi2_quantile(0.975, 5) <= 0.04) & (ss / chi2_quantile(0.025, 5) >= 0.04)
    assert np.mean(inside) == pytest.approx(0.95, abs=0.0062)


def test_the_number_of_starts_that_is_asked_for_is_the_least_that_does() -> None:
    for scatter, within in ((0.25, 0.1), (0.1, 0.1), (0.5, 0.2), (0.01, 0.1)):
        n = starts_needed(scatter, within)

        def half(k: int, s: float = scatter) -> float:
            return float(stats.t.ppf(0.975, k - 1)) * s / math.sqrt(k)

        assert half(n) <= within
        assert n == 2 or half(n - 1) > within


def test_a_start_far_off_is_an_outlier_and_a_normal_sample_seldom_has_one() -> None:
    """Grubbs' test at 0.1 %: in 1,000 normal samples one is expected; more than eight has odds below 1e-5 (Poisson)."""
    rng = np.random.default_rng(5)
    sample = rng.normal(0.3, 0.1, 12).tolist()
    assert outliers([*sample, 1.8]) == [12]
    assert sum(bool(outliers(row)) for row in rng.normal(0, 1, (1_000, 10)).tolist()) <= 8
    assert outliers([0.1, 0.1, 0.1, 0.1, 9.0][:4]) == []
    assert outliers([0.2] * 10) == []
