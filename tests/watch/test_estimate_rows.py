"""The rows of reference.md under "Estimation", each against our own filters and tests where they compute it."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss
from scipy.linalg import solve_discrete_are
from scipy.optimize import brentq
from scipy.stats import norm

from interlock.watch import creep
from interlock.watch.believed import STEADY_Q
from interlock.watch.creep import AT_SPEED_S, Creep, H, K
from interlock.watch.motion import PULSE_SIGMA_FR, Motion

# [C] from the discrete algebraic Riccati equation, `scipy.linalg.solve_discrete_are`; formula Kalata 1984 [M].
ROWS = [
    (0.01, 0.13185099, 0.00931745),
    (0.1, 0.36, 0.08),
    (0.5, 0.62837346, 0.30480590),
    (1.0, 0.75, 0.50),
    (2.0, 0.85410197, 0.76393202),
]


def _gains(q: np.ndarray, r: float, t_s: float) -> tuple[float, float]:
    """α and β of the steady filter of position and speed with process noise ``q``: gain and gain · T."""
    f, h = np.array([[1.0, t_s], [0.0, 1.0]]), np.array([[1.0, 0.0]])
    prior = solve_discrete_are(f.T, h.T, q, np.array([[r]]))
    gain = prior @ h.T / (h @ prior @ h.T + r)
    return float(gain[0, 0]), float(gain[1, 0] * t_s)


@pytest.mark.parametrize(("index", "alpha", "beta"), ROWS)
def test_the_gains_of_the_tracking_index_are_those_of_the_reference(
    index: float, alpha: float, beta: float
) -> None:
    root = (4.0 + index - math.sqrt(8.0 * index + index * index)) / 4.0
    a = 1.0 - root * root
    assert (a, 2.0 * (2.0 - a) - 4.0 * math.sqrt(1.0 - a)) == pytest.approx((alpha, beta), abs=5e-9)
    # σ_w = Λ, σ_v = 1, T = 1: an acceleration that is constant for a sample.
    q = index**2 * np.array([[0.25, 0.5], [0.5, 1.0]])
    assert _gains(q, 1.0, 1.0) == pytest.approx((alpha, beta), abs=5e-9)


@pytest.mark.parametrize("every_s", [1.0 / 24.0, 0.1])
def test_our_filter_of_a_machine_settles_at_the_gains_of_its_own_riccati_equation(every_s: float) -> None:
    """[C] As above, with a machine's own noises: speed as a random walk, pulses with their sigma."""
    motion = Motion(24.0, 1.0, 0.3, 0.1, 0.0)
    motion.edge(0.0, True)
    for n in range(1, 20_000):
        t_s = n * every_s
        motion.pulse(t_s, motion.profile.at(t_s)[0])
    t = every_s
    q = STEADY_Q * np.array([[t**3 / 3.0, t**2 / 2.0], [t**2 / 2.0, t]])
    alpha, beta = _gains(q, PULSE_SIGMA_FR**2, t)
    # After an update P = gain · R in its first row, which is how a gain is read off a filter from outside.
    r = PULSE_SIGMA_FR**2
    assert motion.pxx / r == pytest.approx(alpha, rel=1e-3)
    assert motion.pxv / r * t == pytest.approx(beta, rel=1e-3)


@pytest.mark.parametrize("n", [30, 120, 1200])
def test_the_rate_of_a_link_is_as_sure_as_the_slope_of_so_many_samples(n: int) -> None:
    """[D] reference.md: SE = σ√12 / (T√(N(N²−1))) for N evenly spaced samples T apart."""
    c = Creep(0.02**2)
    c.start(0.0, 0.0)
    for k in range(1, n):
        c.sample(float(k), 0.01 * k)
    assert math.sqrt(c.prr) == pytest.approx(0.02 * math.sqrt(12.0) / math.sqrt(n * (n * n - 1.0)), rel=1e-3)
    assert c.rate_fps == pytest.approx(0.01, rel=1e-3)


def _arl(h: float, shift: float = 0.0, k: float = 0.5) -> float:
    """Mean run of a one-sided CUSUM from 0 to beyond ``h``, by its integral equation (Gauss-Legendre, 64 nodes)."""
    x, w = leggauss(64)
    x, w = 0.5 * h * (x + 1.0), 0.5 * h * w
    a = norm.pdf(x[None, :] - x[:, None] + k - shift) * w[None, :]
    to_zero = norm.cdf(k - shift - x)
    n = len(x)
    system = np.zeros((n + 1, n + 1))
    system[:n, :n] = np.eye(n) - a
    system[:n, n] = -to_zero
    system[n, :n] = -norm.pdf(x + k - shift) * w
    system[n, n] = 1.0 - norm.cdf(k - shift)
    return float(np.linalg.solve(system, np.ones(n + 1))[n])


def _two_sided(h: float, shift: float = 0.0) -> float:
    return 1.0 / (1.0 / _arl(h, shift) + 1.0 / _arl(h, -shift))


def _siegmund(h: float, k: float = 0.5) -> float:
    """Two-sided, no shift. [M] Siegmund 1985: (e^(2kb) − 2kb − 1) / (2k²), b = h + 1.166, and half of it for two sides."""
    b = h + 1.166
    return (math.exp(2.0 * k * b) - 2.0 * k * b - 1.0) / (2.0 * k * k) / 2.0


def test_the_mean_runs_of_a_cusum_are_those_of_the_reference() -> None:
    # [M] Montgomery's table, rows [C]: h = 4: 167.68 at no shift, 8.38 at 1 σ; h = 5: 465.44 and 10.38.
    assert (_two_sided(4.0), _two_sided(4.0, 1.0)) == pytest.approx((167.68, 8.38), abs=0.006)
    assert (_two_sided(5.0), _two_sided(5.0, 1.0)) == pytest.approx((465.44, 10.38), abs=0.006)
    # At 24 samples a second: h = 5 errs every 19 s; one false alarm an hour needs 10.209, one a day 13.386.
    assert _two_sided(5.0) / 24.0 == pytest.approx(19.0, abs=0.5)
    assert brentq(lambda h: _two_sided(h) - 24.0 * 3600.0, 8.0, 12.0) == pytest.approx(10.209, abs=0.001)
    assert brentq(lambda h: _two_sided(h) - 24.0 * 86400.0, 12.0, 15.0) == pytest.approx(13.386, abs=0.001)


@pytest.mark.parametrize("h", [4.0, 5.0, 10.0, 14.0])
def test_the_approximation_for_long_runs_is_near_enough(h: float) -> None:
    assert _siegmund(h) == pytest.approx(_two_sided(h), rel=0.03)


def test_a_month_of_shows_on_fifteen_links_passes_between_two_false_finds_of_a_change() -> None:
    """A month: thirty days with two shows of three hours each, one sample a second on each of fifteen links."""
    samples = 30 * 2 * 3 * 3600 * 15
    assert K == 0.5
    assert _two_sided(H) >= samples
    assert _siegmund(H) >= samples


@pytest.mark.parametrize(("h", "mean"), [(4.0, 167.68), (5.0, 465.44)])
def test_the_test_in_our_own_filter_runs_as_long_as_the_reference_says(
    h: float, mean: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its innovations are N(0, 1) and independent when the model holds: so it begins anew as often as a CUSUM alone does."""
    monkeypatch.setattr(creep, "H", h)
    rng = random.Random(20)
    c = Creep(0.01**2)
    runs, length, rate, d, t_s = [], 0, 0.0, 0.0, 0.0
    while len(runs) < 400:
        t_s += 1.0
        if c.samples == 0:
            rate, d, length = rng.gauss(0.0, 0.5), 0.0, 0
            c.start(t_s, rng.gauss(0.0, 0.01))
            continue
        d += rate
        length += 1
        c.sample(t_s, d + rng.gauss(0.0, 0.01))
        if c.samples == 1:
            runs.append(length)
            c.reset()
    # Runs are near to geometric: their mean has a standard error of a twentieth of itself.
    assert math.fsum(runs) / len(runs) == pytest.approx(mean, rel=0.15)


def test_a_rate_that_changes_is_found_and_the_filter_begins_anew() -> None:
    rng = random.Random(3)
    c = Creep(0.01**2)
    c.start(0.0, 0.0)
    d = 0.0
    for n in range(1, 600):
        c.sample(float(n), d + rng.gauss(0.0, 0.01))
    assert c.samples == 600
    n = 600
    while c.samples > 1:
        d += 0.024  # a tenth of a percent
        c.sample(float(n), d + rng.gauss(0.0, 0.01))
        n += 1
    assert n - 600 <= 10
    assert AT_SPEED_S == 3.0
