"""The whole run by simulation, against what can be known without one."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from odds_shows import a_show
from scipy import integrate
from scipy.stats import norm

from interlock.plan import odds_run
from interlock.plan.odds_run import drifts_apart, released_after_fr, simulate
from interlock.plan.odds_start import chain_of
from interlock.showfile.show import Show

SHOWS = 200_000


def within(share: float, p: float, shows: int = SHOWS) -> bool:
    """Four sigma of a share of simulated shows; with p at 0 or 1, three of them may differ."""
    return abs(share - p) <= 4.0 * math.sqrt(p * (1.0 - p) / shows) + 3.0 / shows


def straight_line(show: Show, k: int, gain_sd_fr: float) -> float:
    """[C] One link by scipy.integrate.quad: at the start within limits, and still so with its whole gain on
    top."""
    chain = chain_of(show)
    mean = (chain.machines[k + 1].mean_s - chain.machines[k].mean_s) * show.fps
    sd = math.hypot(chain.machines[k].sd_s, chain.machines[k + 1].sd_s) * show.fps
    tight, spill = show.links[k].tight_fr, show.links[k].spill_fr

    def both(x: float) -> float:
        stays = norm.cdf((spill - x) / gain_sd_fr) - norm.cdf((-tight - x) / gain_sd_fr)
        return float(norm.pdf(x, mean, sd) * stays)

    return float(integrate.quad(both, -tight, spill, epsabs=1e-10)[0])


def test_a_simulated_start_agrees_with_the_exact_one() -> None:
    show = a_show(8, start_scatter_s=0.55, tight_s=1.8, spill_s=2.2)
    odds = simulate(show, SHOWS, seed=3)
    chain = chain_of(show)
    assert within(odds.start_holds, chain.holds())
    for k, share in enumerate(odds.link_start_holds):
        assert within(share, chain.link_holds(k))


def test_synchronous_machines_on_one_supply_do_not_drift_apart() -> None:
    """[P] EN 50160, [D] reference.md: they shift together."""
    show = a_show(4, start_scatter_s=0.6)
    odds = simulate(show, 20_000, seed=1)
    assert not drifts_apart(show)
    assert odds.run_holds == odds.start_holds < 1.0
    assert odds.link_run_holds == odds.link_start_holds


@pytest.mark.parametrize("tolerance", [2e-5, 5e-5, 2e-4])
def test_crystal_machines_part_in_a_straight_line(tolerance: float) -> None:
    show = a_show(4, motors=["crystal"] * 4, tolerance=tolerance, start_scatter_s=0.4, tight_s=1.5)
    odds = simulate(show, SHOWS, seed=11)
    for k, after_fr in enumerate(released_after_fr(show)):
        assert within(odds.link_run_holds[k], straight_line(show, k, after_fr * tolerance * math.sqrt(2.0)))
    assert odds.run_holds <= min(odds.link_run_holds)
    assert odds.run_holds <= odds.start_holds


def test_mains_0_05_percent_off_uses_48_frames_in_67_minutes_beside_a_crystal() -> None:
    """[D] design.md: 48 fr / (24 fps · 0.0005) = 4000 s, 67 min. A run of just that length holds for |error|
    < 1 sigma."""
    assert odds_run.SUPPLY_SIGMA == 0.0005
    show = a_show(2, motors=["synchronous", "crystal"], start_scatter_s=0.0, ramp_scatter_s=0.0, run_s=4000.0)
    odds = simulate(show, SHOWS, seed=5)
    assert odds.start_holds == 1.0
    assert within(odds.run_holds, math.erf(math.sqrt(0.5)))


def test_two_supplies_drift_apart_and_one_link_between_them_is_the_one_that_does() -> None:
    show = a_show(
        4, supplies=["mains", "mains", "generator", "generator"], start_scatter_s=0.0, ramp_scatter_s=0.0
    )
    odds = simulate(show, SHOWS, seed=5)
    gain_sd_fr = released_after_fr(show)[1] * odds_run.SUPPLY_SIGMA * math.sqrt(2.0)
    assert odds.link_run_holds[0] == odds.link_run_holds[2] == 1.0
    assert within(odds.link_run_holds[1], math.erf(48.0 / gain_sd_fr / math.sqrt(2.0)))
    assert odds.run_holds == odds.link_run_holds[1]


def test_a_synchronous_machine_with_an_offset_of_its_own_drifts_too() -> None:
    show = a_show(2, tolerance=1e-4)
    odds = simulate(show, SHOWS, seed=5)
    assert within(
        odds.link_run_holds[0], straight_line(show, 0, released_after_fr(show)[0] * 1e-4 * math.sqrt(2.0))
    )


def test_a_link_is_judged_until_its_upstream_gate_is_clear() -> None:
    show = a_show(3, run_s=1000.0, path_fr=2400.0)
    assert released_after_fr(show) == (24_000.0, 26_400.0)


def wandering(tolerance: float) -> tuple[Show, float]:
    """Two induction machines and the closed form of one thing about them: sd of the drift by wander alone at
    release."""
    show = a_show(2, motors=["induction"] * 2, tolerance=tolerance, start_scatter_s=0.0, ramp_scatter_s=0.0)
    run_s, tau_s = 6000.0, odds_run.WANDER_TAU_S
    # Variance of the integral of an Ornstein-Uhlenbeck process that starts in its stationary state.
    spread_s2 = 2.0 * tau_s * (run_s - tau_s * (1.0 - math.exp(-run_s / tau_s)))
    return show, 24.0 * odds_run.WANDER_SHARE * tolerance * math.sqrt(2.0 * spread_s2)


def test_induction_machines_are_worse_than_their_fixed_offsets_alone_and_bounded_by_where_they_end() -> None:
    tolerance = 1e-4
    show, wander_sd_fr = wandering(tolerance)
    odds = simulate(show, 100_000, seed=9)
    gain_sd_fr = 144_000.0 * tolerance * math.sqrt(2.0)
    at_the_end = math.erf(48.0 / math.hypot(gain_sd_fr, wander_sd_fr) / math.sqrt(2.0))
    offsets_alone = math.erf(48.0 / gain_sd_fr / math.sqrt(2.0))
    # Held all evening implies held at its end; and a drift mostly straight is at its worst there nearly
    # always.
    assert at_the_end - 0.02 < odds.run_holds < at_the_end + 0.004
    assert odds.run_holds < offsets_alone


def test_wander_alone_spreads_as_an_ornstein_uhlenbeck_process_does(monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing but wander, and judged only at the release: the spread is the closed form's."""
    show, wander_sd_fr = wandering(1e-3)
    monkeypatch.setattr(odds_run, "WANDER_STEP_S", 100.0)
    model = odds_run._Model(show)
    held = np.ones((1, 40_000), dtype=bool)
    nothing = np.zeros((1, 40_000))
    # Limits that are open but for the last step: the loss is then decided at the release alone.
    limit_fr = 1.0 * wander_sd_fr
    model.tight_fr[:], model.spill_fr[:] = np.inf, np.inf
    steps = iter([np.inf] * 59 + [limit_fr])

    def within_at_the_end(drift_fr: np.ndarray, _: object) -> np.ndarray:
        return np.abs(drift_fr) <= next(steps)

    monkeypatch.setattr(odds_run._Model, "_within", lambda self, d, links: within_at_the_end(d, links))
    model._wander(np.random.default_rng(1), nothing, nothing, held)
    assert within(float(held.mean()), math.erf(math.sqrt(0.5)), 40_000)


def test_default_induction_machines_cannot_run_a_feature_together() -> None:
    """[P] reference.md: induction slip of per cents; 0.5 % (1 sigma) of 24 fps uses 48 frames within
    minutes."""
    odds = simulate(a_show(4, motors=["induction"] * 4, tolerance=0.005), 20_000, seed=1)
    assert odds.run_holds < 0.001
    assert all(p < 0.05 for p in odds.link_run_holds)


def test_an_induction_machine_harms_its_own_links_only() -> None:
    show = a_show(
        5, motors=["synchronous", "synchronous", "synchronous", "synchronous", "induction"], tolerance=0.0
    )
    slow = msgspec.structs.replace(show.houses[4], speed_tolerance=0.005)
    show = msgspec.structs.replace(show, houses=(*show.houses[:4], slow))
    odds = simulate(show, 20_000, seed=1)
    assert odds.link_run_holds[:3] == odds.link_start_holds[:3]
    assert odds.link_run_holds[3] < 0.1


def test_the_same_seed_gives_the_same_odds_and_another_one_others() -> None:
    show = a_show(6, motors=["crystal", "synchronous"] * 3, tolerance=5e-5)
    assert simulate(show, 70_000, seed=4) == simulate(show, 70_000, seed=4)
    assert simulate(show, 70_000, seed=4).run_holds != simulate(show, 70_000, seed=5).run_holds


@pytest.mark.parametrize("shows", [1, 7, odds_run.CHUNK, odds_run.CHUNK + 1])
def test_progress_counts_every_show_once(shows: int) -> None:
    told: list[int] = []
    odds = simulate(a_show(3), shows, seed=0, progress=told.append)
    assert sum(told) == shows == odds.shows


def test_fewer_than_one_show_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        simulate(a_show(3), 0, seed=0)
