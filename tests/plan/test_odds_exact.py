"""The chain recursion against everything that is known about it from outside."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate
from scipy.stats import multivariate_normal, norm

from interlock.plan.odds_exact import Lateness, chain_holds
from interlock.plan.odds_start import Chain, scatter_for

# [C] reference.md, "Odds that a start holds": n machines N(0, s²), every link within 2.0 s; two independent
# quadratures, agreeing to 1e-10, printed to nine digits.
TABLE = [
    (2, 0.3, 0.999997572),
    (2, 0.5, 0.995322265),
    (2, 0.7, 0.956648249),
    (4, 0.3, 0.999992738),
    (4, 0.5, 0.986678534),
    (4, 0.7, 0.886336215),
    (8, 0.3, 0.999983071),
    (8, 0.5, 0.969608110),
    (8, 0.7, 0.760678152),
    (16, 0.3, 0.999963737),
    (16, 0.5, 0.936348147),
    (16, 0.7, 0.560280231),
]
# [C] the same page: c/s for 99.9 %.
WIDTH_FOR_999 = [(2, 4.6535), (4, 5.0670), (8, 5.3721), (16, 5.6346)]
# [C] the same page: uniform scatter of width w, u = c/w = ⅔.
UNIFORM = [(2, 0.888888889), (3, 0.802469136), (4, 0.723251029), (8, 0.477600768), (16, 0.208257356)]


def equal(n: int, s: float, c: float = 2.0) -> float:
    return chain_holds([Lateness(0.0, s)] * n, [c] * (n - 1), [c] * (n - 1))


@pytest.mark.parametrize(("n", "s", "holds"), TABLE)
def test_every_row_of_the_reference_table_comes_out_to_its_last_digit(n: int, s: float, holds: float) -> None:
    assert equal(n, s) == pytest.approx(holds, abs=6e-10)


@pytest.mark.parametrize(("n", "width"), WIDTH_FOR_999)
def test_the_scatter_for_99_9_percent_is_the_reference_tables(n: int, width: float) -> None:
    chain = Chain((Lateness(0.6, 0.3),) * n, (0.0,) * n, (2.0,) * (n - 1), (2.0,) * (n - 1))
    scatter_s = scatter_for(chain, 0.999)
    assert scatter_s is not None
    assert 2.0 / scatter_s == pytest.approx(width, abs=6e-5)
    assert chain.with_common_scatter(scatter_s).holds() == pytest.approx(0.999, abs=1e-12)


@pytest.mark.parametrize(("n", "holds"), UNIFORM)
def test_uniform_scatter_agrees_with_the_reference_table(n: int, holds: float) -> None:
    machines = [Lateness(0.0, 1.0 / math.sqrt(12.0), "uniform")] * n
    assert chain_holds(machines, [2.0 / 3.0] * (n - 1), [2.0 / 3.0] * (n - 1)) == pytest.approx(
        holds, abs=6e-10
    )


@given(u=st.floats(0.5, 1.0))
def test_uniform_scatter_agrees_with_its_closed_forms(u: float) -> None:
    """[C] reference.md: n = 2: 1−(1−u)²; n = 3, u ≥ ½: 2(1−u³)/3+2u−1."""
    one = Lateness(3.0, 1.0 / math.sqrt(12.0), "uniform")
    assert chain_holds([one] * 2, [u], [u]) == pytest.approx(1.0 - (1.0 - u) ** 2, abs=1e-11)
    assert chain_holds([one] * 3, [u] * 2, [u] * 2) == pytest.approx(
        2 * (1 - u**3) / 3 + 2 * u - 1, abs=1e-11
    )


def test_unlike_houses_and_limits_agree_with_an_adaptive_quadrature() -> None:
    """[C] scipy.integrate.quad over the middle one of three machines: the outer two are independent given
    it."""
    mean, sd = (0.1, 0.9, 0.4), (0.35, 0.02, 0.6)
    tight, spill = (1.1, 0.7), (1.4, 0.9)

    def given_middle(y: float) -> float:
        first = norm.cdf(y + tight[0], mean[0], sd[0]) - norm.cdf(y - spill[0], mean[0], sd[0])
        third = norm.cdf(y + spill[1], mean[2], sd[2]) - norm.cdf(y - tight[1], mean[2], sd[2])
        return float(norm.pdf(y, mean[1], sd[1]) * first * third)

    want, _ = integrate.quad(given_middle, 0.7, 1.1, epsabs=1e-13, epsrel=1e-13, limit=200)
    machines = [Lateness(m, s) for m, s in zip(mean, sd, strict=True)]
    assert chain_holds(machines, tight, spill) == pytest.approx(want, abs=1e-11)


def test_four_unlike_houses_agree_with_a_double_quadrature() -> None:
    """[C] Gauss-Legendre (numpy) over both inner machines, 160 nodes each on their own windows."""
    mean, sd = (0.0, 0.3, -0.2, 0.5), (0.5, 0.3, 0.7, 0.25)
    tight, spill = (0.9, 1.2, 0.8), (1.0, 0.6, 1.5)
    nodes, weights = np.polynomial.legendre.leggauss(160)
    total = 0.0
    y = mean[1] + 9 * sd[1] * nodes
    first = norm.cdf(y + tight[0], mean[0], sd[0]) - norm.cdf(y - spill[0], mean[0], sd[0])
    for yi, wi, fi in zip(y, weights * 9 * sd[1], first, strict=True):
        half = (tight[1] + spill[1]) / 2
        z = yi + (spill[1] - tight[1]) / 2 + half * nodes
        fourth = norm.cdf(z + spill[2], mean[3], sd[3]) - norm.cdf(z - tight[2], mean[3], sd[3])
        inner = half * float(np.sum(weights * norm.pdf(z, mean[2], sd[2]) * fourth))
        total += wi * fi * float(norm.pdf(yi, mean[1], sd[1])) * inner
    machines = [Lateness(m, s) for m, s in zip(mean, sd, strict=True)]
    assert chain_holds(machines, tight, spill) == pytest.approx(total, abs=1e-10)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_six_unlike_houses_agree_with_the_multivariate_normal(seed: int) -> None:
    """[C] scipy.stats.multivariate_normal.cdf; reference.md: agrees to 3e-5."""
    rng = np.random.default_rng(seed)
    n = 6
    mean, sd = rng.normal(0.0, 0.3, n), rng.uniform(0.2, 0.7, n)
    tight, spill = rng.uniform(1.0, 2.5, n - 1), rng.uniform(1.0, 2.5, n - 1)
    apart = np.diff(np.eye(n), axis=0)  # e_downstream − e_upstream
    covariance = apart @ np.diag(sd**2) @ apart.T
    want = multivariate_normal.cdf(
        spill, apart @ mean, covariance, lower_limit=-tight, rng=np.random.default_rng(0), abseps=1e-6
    )
    machines = [Lateness(float(m), float(s)) for m, s in zip(mean, sd, strict=True)]
    assert chain_holds(machines, tight.tolist(), spill.tolist()) == pytest.approx(float(want), abs=3e-5)


def test_ten_million_random_starts_agree() -> None:
    """[C] reference.md: 10⁷ random starts, to 4√(p(1−p)/N). Unlike limits, so that a wrong sign would
    show."""
    machines = [Lateness(0.0, 0.5), Lateness(0.4, 0.3), Lateness(-0.1, 0.6), Lateness(0.2, 0.4)]
    tight, spill = [1.0, 2.0, 1.2], [2.0, 0.8, 1.5]
    exact = chain_holds(machines, tight, spill)
    rng = np.random.default_rng(20)
    held, total, block = 0, 10_000_000, 500_000
    for _ in range(total // block):
        late = [m.mean_s + m.sd_s * rng.standard_normal(block) for m in machines]
        ok = np.ones(block, dtype=bool)
        for k in range(3):
            drift_s = late[k + 1] - late[k]
            ok &= (drift_s >= -tight[k]) & (drift_s <= spill[k])
        held += int(np.count_nonzero(ok))
    assert held / total == pytest.approx(exact, abs=4.0 * math.sqrt(exact * (1.0 - exact) / total))


@given(
    sd=st.lists(st.floats(0.05, 1.5), min_size=2, max_size=6),
    limits=st.lists(st.floats(0.05, 3.0), min_size=5, max_size=5),
)
@settings(deadline=None)
def test_bonferroni_sidak_exact_one_link_stand_in_this_order(sd: list[float], limits: list[float]) -> None:
    """[C] reference.md, for symmetric limits and equal planned starts."""
    machines = [Lateness(0.5, s) for s in sd]
    c = limits[: len(sd) - 1]
    exact = chain_holds(machines, c, c)
    alone = [
        math.erf(c[k] / math.sqrt(2.0 * (sd[k] ** 2 + sd[k + 1] ** 2))) for k in range(len(c))
    ]  # closed form of one link
    assert 1.0 - sum(1.0 - p for p in alone) <= math.prod(alone) + 1e-12
    assert math.prod(alone) <= exact + 1e-11
    assert exact <= min(alone) + 1e-11


machines_st = st.builds(
    Lateness,
    st.floats(-3.0, 3.0),
    st.one_of(st.just(0.0), st.floats(0.0, 2.0)),
    st.sampled_from(["normal", "normal", "uniform"]),
)
limits_st = st.lists(st.tuples(st.floats(0.0, 4.0), st.floats(0.0, 4.0)), min_size=5, max_size=5)


@given(machines=st.lists(machines_st, min_size=2, max_size=6), limits=limits_st, data=st.data())
@settings(deadline=None, max_examples=80)
def test_wider_limits_never_do_harm(
    machines: list[Lateness], limits: list[tuple[float, float]], data: st.DataObject
) -> None:
    limits = limits[: len(machines) - 1]
    tight, spill = [t for t, _ in limits], [s for _, s in limits]
    before = chain_holds(machines, tight, spill)
    k = data.draw(st.integers(0, len(limits) - 1))
    wider = data.draw(st.floats(0.0, 3.0))
    (tight if data.draw(st.booleans()) else spill)[k] += wider
    assert 0.0 <= before <= chain_holds(machines, tight, spill) + 1e-11 <= 1.0 + 2e-11


@given(
    sd=st.lists(st.one_of(st.just(0.0), st.floats(0.0, 2.0)), min_size=2, max_size=6),
    c=st.lists(st.floats(0.0, 4.0), min_size=5, max_size=5),
    data=st.data(),
)
@settings(deadline=None, max_examples=80)
def test_less_scatter_never_does_harm_with_symmetric_limits_and_equal_planned_starts(
    sd: list[float], c: list[float], data: st.DataObject
) -> None:
    limits = c[: len(sd) - 1]
    more = chain_holds([Lateness(1.0, s) for s in sd], limits, limits)
    k = data.draw(st.integers(0, len(sd) - 1))
    sd[k] *= data.draw(st.floats(0.0, 1.0))
    assert chain_holds([Lateness(1.0, s) for s in sd], limits, limits) >= more - 1e-11


def test_with_lopsided_limits_more_scatter_can_help() -> None:
    """[C] reference.md: n = 3, spill 0.05 s, tight 2 s: more scatter in the first house raises the odds."""

    def holds(first_s: float) -> float:
        return chain_holds(
            [Lateness(0.0, first_s), Lateness(0.0, 0.3), Lateness(0.0, 0.3)], [2.0] * 2, [0.05] * 2
        )

    assert holds(0.4) > holds(0.3) + 0.001


@given(machines=st.lists(machines_st, min_size=1, max_size=16), data=st.data())
@settings(deadline=None, max_examples=60)
def test_whatever_the_chain_the_odds_are_a_probability(machines: list[Lateness], data: st.DataObject) -> None:
    n = len(machines) - 1
    limit = st.one_of(st.sampled_from([0.0, 1e-9, 1e9, math.inf]), st.floats(0.0, 1e3))
    tight = data.draw(st.lists(limit, min_size=n, max_size=n))
    spill = data.draw(st.lists(limit, min_size=n, max_size=n))
    assert 0.0 <= chain_holds(machines, tight, spill) <= 1.0


def test_machines_without_scatter_are_judged_as_they_stand() -> None:
    at = [Lateness(0.6, 0.0), Lateness(2.6, 0.0), Lateness(0.6, 0.0)]
    assert chain_holds(at, [2.0, 2.0], [2.0, 2.0]) == 1.0  # exactly at a limit is not beyond it
    assert chain_holds(at, [2.0, 1.9], [2.0, 2.0]) == 0.0
    assert chain_holds([Lateness(0.0, 0.0)] * 3, [0.0] * 2, [0.0] * 2) == 1.0


def test_no_room_at_all_and_huge_differences_never_hold() -> None:
    assert chain_holds([Lateness(0.0, 0.25)] * 3, [0.0] * 2, [0.0] * 2) == 0.0
    assert chain_holds([Lateness(0.0, 0.25), Lateness(1e6, 0.25)], [2.0], [2.0]) == 0.0
    assert chain_holds([Lateness(0.0, 0.25)] * 2, [math.inf], [math.inf]) == pytest.approx(1.0, abs=1e-14)


def test_a_very_steady_machine_between_two_wild_ones_is_not_overlooked() -> None:
    """Given the middle one (a point, nearly) the two links are independent: [C] erf."""
    machines = [Lateness(0.0, 10.0), Lateness(0.0, 1e-5), Lateness(0.0, 10.0)]
    want = math.erf(0.01 / (10.0 * math.sqrt(2.0))) ** 2
    assert chain_holds(machines, [0.01] * 2, [0.01] * 2) == pytest.approx(want, abs=1e-12)


def test_lengths_that_do_not_fit_and_numbers_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="n − 1 links"):
        chain_holds([Lateness(0.0, 0.3)] * 3, [2.0], [2.0, 2.0])
    with pytest.raises(ValueError, match="finite"):
        chain_holds([Lateness(0.0, math.nan)] * 2, [2.0], [2.0])
