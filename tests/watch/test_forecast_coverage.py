"""The forecast's 90 % interval holds the true time in 85–95 % of simulated creeps; and the first-passage rows of reference.md."""

from __future__ import annotations

import math
import random

import pytest
from creeps import KINDS, Forecast, creep
from scipy.stats import invgauss, norm

from interlock.watch.creep import Creep
from interlock.watch.forecast import Z95, passed, quantiles_s

LEAST, MOST = 0.85, 0.95


def _shares(found: list[dict[str, Forecast]]) -> dict[str, tuple[int, float]]:
    """Moment → (how many forecasts, which share of them held the true time)."""
    shares = {}
    for moment in ("alarm", "half"):
        held = [f[moment].holds for f in found if moment in f]
        shares[moment] = (len(held), sum(held) / len(held))
    return shares


def _many(kind: str, n: int, least: float) -> list[dict[str, Forecast]]:
    most = 0.02 if kind == "induction" else 0.01
    return [creep(kind, seed, least, most) for seed in range(n)]


def test_the_interval_holds_the_true_time_in_nine_of_ten_creeps_when_it_is_first_said_and_half_way() -> None:
    """0.3–1 % from the first second or later, either way, machines of all kinds; the whole range is in the long run."""
    sizes = {"synchronous": 60, "crystal beside the mains": 25, "induction": 25}
    found = [f for kind, n in sizes.items() for f in _many(kind, n, 0.003 if kind != "induction" else 0.01)]
    for moment, (n, share) in _shares(found).items():
        assert n >= 80, moment
        assert LEAST <= share <= MOST, (moment, n, share)


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_the_interval_holds_for_machines_of_every_kind_down_to_three_hundredths_of_a_percent(
    kind: str,
) -> None:
    shares = _shares(_many(kind, 200, 0.01 if kind == "induction" else 0.0003))
    print(kind, shares)
    for moment, (n, share) in shares.items():
        assert n >= 120, moment
        assert LEAST <= share <= MOST, (moment, n, share)


def test_the_first_passage_of_a_diffusing_drift_is_the_inverse_gaussian_of_the_reference() -> None:
    # [C] reference.md, `scipy.stats.invgauss(mu=s**2/(a*ν), scale=a**2/s**2)`: a = 48, ν = 0.5, s = 2.
    times = quantiles_s(lambda t: passed(48.0, 0.5 * t, 0.0, 4.0 * t), 96.0)
    assert times == pytest.approx((46.670, 88.695, 170.237), abs=0.001)
    law = invgauss(mu=2.0**2 / (48.0 * 0.5), scale=48.0**2 / 2.0**2)
    assert law.mean() == pytest.approx(96.0)
    assert law.std() == pytest.approx(39.1918, abs=1e-4)
    for t in (20.0, 60.0, 96.0, 200.0, 500.0):
        assert passed(48.0, 0.5 * t, 0.0, 4.0 * t) == pytest.approx(float(law.cdf(t)), rel=1e-9)


def test_without_diffusion_it_is_the_normal_probability_of_the_reference() -> None:
    # [C] reference.md: P(over by t) = Φ((x+rt−c)/√(Pxx+2tPxv+t²Pvv)); x 12, r 0.6, Pxx 0.25, Pxv 0, Pvv 0.0025, c 48.
    times = quantiles_s(lambda t: passed(36.0, 0.6 * t, 0.25 + t * t * 0.0025, 0.0), 60.0)
    assert times == pytest.approx((52.654, 60.000, 69.644), abs=0.001)


def test_a_rate_that_is_itself_uncertain_is_averaged_over() -> None:
    """[D] The mean of the inverse Gaussian's distribution over ν ~ N(0.5, 0.1²), by summing it over its quantiles."""
    rates = [norm.ppf((n + 0.5) / 4000, 0.5, 0.1) for n in range(4000)]
    for t in (50.0, 80.0, 100.0, 170.0):
        mean = math.fsum(
            norm.cdf((nu * t - 48.0) / (2.0 * math.sqrt(t)))
            + math.exp(2.0 * 48.0 * nu / 4.0) * norm.cdf(-(nu * t + 48.0) / (2.0 * math.sqrt(t)))
            for nu in rates
        ) / len(rates)
        assert passed(48.0, 0.5 * t, 0.01 * t * t, 4.0 * t) == pytest.approx(mean, abs=2e-4)


def test_times_that_chance_alone_may_never_bring_are_not_bounded() -> None:
    assert quantiles_s(lambda t: passed(48.0, 0.0, (t * 0.1) ** 2, 0.0), 100.0) is None


@pytest.mark.parametrize(("wander_fps", "tau_s"), [(0.0, 60.0), (0.03, 60.0), (0.0048, 300.0)])
def test_drift_and_rate_keep_their_sigma_when_speeds_wander_as_the_model_says(
    wander_fps: float, tau_s: float
) -> None:
    """The filter against its own model, drawn independently: normalised errors of the lasting rate are those of N(0, 1)."""
    rng = random.Random(7)
    z = []
    for _ in range(200):
        c = Creep(1e-4, wander_fps, tau_s)
        rate, w, d = rng.gauss(0.0, 0.1), rng.gauss(0.0, wander_fps), 0.0
        c.start(0.0, d + rng.gauss(0.0, 0.01))
        for n in range(1, 120):
            # In twenty steps a second: the sum of many small ones is the process itself.
            for _ in range(20):
                d += (rate + w) / 20.0
                keep = math.exp(-0.05 / tau_s)
                w = keep * w + rng.gauss(0.0, wander_fps * math.sqrt(1.0 - keep * keep))
            c.sample(float(n), d + rng.gauss(0.0, 0.01))
        z.append((c.rate_fps - rate) / math.sqrt(c.prr))
    assert 0.85 < math.sqrt(math.fsum(x * x for x in z) / len(z)) < 1.15
    assert 0.85 <= sum(abs(x) < Z95 for x in z) / len(z) <= 0.95
