"""The pull over rollers, against textbooks, and that it never falls along a stretch."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from threading_shows import a_show

from interlock.film import FORMATS
from interlock.plan.threading_pull import (
    Step,
    end_pull,
    link_steps,
    pull_along,
    running_pulls,
    stuck_gain,
    turning_gain,
    weight_npm,
)
from interlock.showfile.settings import Lift, ThreadingSettings
from interlock.showfile.show import Link, Roller

STILL = ThreadingSettings(roller_drag_n=0.0)


def test_belt_friction_is_that_of_the_textbooks() -> None:
    """[P] statics textbook, problem 8.104: 80 lb holds 5,000 lb with 2 turns: μ = 0.329; 20,000 lb needs 2.67."""
    two_turns = 4 * math.pi
    mu = math.log(5000 / 80) / two_turns
    assert mu == pytest.approx(0.329, abs=5e-4)
    assert 80 * stuck_gain(mu, two_turns) == pytest.approx(5000)
    assert 80 * stuck_gain(0.329, 2.67 * 2 * math.pi) == pytest.approx(20_000, rel=0.005)
    # [P] engineering mechanics exercise 27: 100 kg, μ 0.2, 3π/2: 382.26 N (with g = 9.81)
    assert 100 * 9.81 / stuck_gain(0.2, 1.5 * math.pi) == pytest.approx(382.26, abs=0.005)
    # [P] statics textbook problem: 2,452.5 N, μ 0.2: π → 1,308.38 N, 3π → 372.38 N
    assert 2452.5 / stuck_gain(0.2, math.pi) == pytest.approx(1308.38, abs=0.01)
    assert 2452.5 / stuck_gain(0.2, 3 * math.pi) == pytest.approx(372.38, abs=0.01)


def test_rollers_multiply_the_pull_as_derived() -> None:
    """[D] 180°, R 25 mm: ball (0.0015, d 8): ×1.1007 over 200 to first order. Bad plain (0.15, d 6): ×1.60 over 13.33 to
    first order, ×1.616 exact. Seized (μ 0.2): ×1.874 each."""
    ball, plain = 0.0015 * 4 / 25, 0.15 * 3 / 25  # k = μ·(d/2)/R·sin 90°
    assert (1 + 2 * ball) ** 200 == pytest.approx(1.1007, abs=5e-5)
    assert (1 + 2 * plain) ** 13.33 == pytest.approx(1.60, abs=5e-3)
    # What is built is the exact law: for the ball bearing it differs from the first order in the fifth digit.
    assert turning_gain(0.0015, 0.008, 0.05, math.pi) ** 200 == pytest.approx(1.1007, abs=1e-4)
    assert turning_gain(0.15, 0.006, 0.05, math.pi) ** 13.33 == pytest.approx(1.616, abs=5e-4)
    assert stuck_gain(0.2, math.pi) == pytest.approx(1.874, abs=5e-4)


@given(
    st.floats(0.0001, 0.5),
    st.floats(0.001, 0.02),
    st.floats(0.03, 0.2),
    st.floats(0.01, 2 * math.pi - 0.01),
    st.floats(0.1, 50),
)
def test_a_turning_rollers_gain_balances_its_bearings_moment(
    mu: float, pin_m: float, roller_m: float, wrap: float, before_n: float
) -> None:
    """[P] rolling-bearing handbook: M = μ·P·d/2; P = 2T·sin(θ/2), T the mean of both pulls; (T2 − T1)·R = M."""
    after_n = turning_gain(mu, pin_m, roller_m, wrap) * before_n
    moment = mu * 2 * ((before_n + after_n) / 2) * math.sin(wrap / 2) * pin_m / 2
    assert (after_n - before_n) * roller_m / 2 == pytest.approx(moment, rel=1e-6, abs=1e-12)


def test_a_pin_that_holds_its_roller_against_any_pull_is_refused() -> None:
    with pytest.raises(ValueError, match="no pull"):
        turning_gain(1.0, 0.05, 0.05, math.pi)


def test_film_weighs_what_the_codes_say() -> None:
    """[P] municipal code, NFPA 40: 5 lb per 1,000 ft of 35 mm, which is 0.073 N/m [D]; other widths in proportion."""
    npm = 5 * 0.45359237 * 9.80665 / 304.8
    assert npm == pytest.approx(0.073, abs=5e-4)
    assert weight_npm(FORMATS["35mm-4p"]) == pytest.approx(0.073)
    assert weight_npm(FORMATS["65mm-5p"]) == pytest.approx(0.146)
    assert weight_npm(FORMATS["16mm"]) == pytest.approx(0.073 * 16 / 35)


def test_a_lift_adds_the_films_weight_and_a_descent_gives_nothing_back() -> None:
    link = Link("1", "2", 1000.0, lifts=(Lift(0.0, 3.0), Lift(500.0, -5.0), Lift(800.0, 2.0)))
    pulls = pull_along(link_steps(link, STILL, 0.073), 1.0)
    assert pulls == pytest.approx([1.219, 1.219, 1.365])


def test_a_link_that_only_knows_its_rise_lifts_before_all_its_rollers() -> None:
    link = Link("1", "2", 1000.0, rollers=(Roller(math.pi, stuck=True),), rise_m=3.0)
    kinds = [(step.kind, step.at_fr) for step in link_steps(link, STILL, 0.073)]
    assert kinds == [("lift", 0.0), ("roller", 500.0), ("lift", 1000.0)]
    assert end_pull(link_steps(link, STILL, 0.073), 1.0) == pytest.approx(1.219 * stuck_gain(0.2, math.pi))


def test_nothing_multiplied_stays_nothing_so_every_turning_roller_adds_a_drag_of_its_own() -> None:
    rollers = (Roller(math.pi / 2),) * 4
    link = Link("1", "2", 1000.0, rollers=rollers)
    assert end_pull(link_steps(link, STILL, 0.073), 0.0) == 0.0
    gain = turning_gain(0.15, 0.006, 0.05, math.pi / 2)
    with_drag = end_pull(link_steps(link, ThreadingSettings(), 0.073), 0.0)
    assert with_drag == pytest.approx(0.1 * (1 + gain + gain**2 + gain**3))


STEPS = st.builds(
    Step,
    kind=st.just("roller"),
    link=st.just("1>2"),
    at_fr=st.just(0.0),
    gain=st.floats(1.0, 4.0),
    adds_n=st.floats(0.0, 3.0),
)


@given(st.lists(STEPS, max_size=30), st.floats(0, 10))
def test_the_pull_never_falls_along_a_stretch(steps: list[Step], start_n: float) -> None:
    pulls = [start_n, *pull_along(steps, start_n)]
    assert pulls == sorted(pulls)


@given(
    st.lists(st.tuples(st.floats(0, 2 * math.pi), st.booleans()), max_size=12),
    st.lists(st.tuples(st.floats(0, 1000), st.floats(-20, 20)), max_size=5),
    st.floats(0, 5),
)
def test_the_pull_never_falls_along_any_link(
    rollers: list[tuple[float, bool]], ups: list[tuple[float, float]], start_n: float
) -> None:
    link = Link(
        "1",
        "2",
        1000.0,
        rollers=tuple(Roller(wrap, stuck) for wrap, stuck in rollers),
        lifts=tuple(Lift(at, by) for at, by in sorted(ups)),
    )
    pulls = [start_n, *pull_along(link_steps(link, ThreadingSettings(), 0.073), start_n)]
    assert all(a <= b for a, b in itertools.pairwise(pulls))


def test_the_running_pull_begins_anew_at_every_link() -> None:
    """The sprocket behind a gate feeds the film out and passes no pull on."""
    running = running_pulls(a_show(4))
    assert [r.link for r in running] == ["feed>1", "1>2", "2>3", "3>4", "4>take-up"]
    assert running[1].pull_n == running[2].pull_n == running[3].pull_n
    assert running[0].pull_n == running[4].pull_n < running[1].pull_n
