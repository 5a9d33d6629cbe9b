"""Rolls: length, diameter and weight, against a reel table and the codes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from threading_shows import a_show

from interlock.plan.rolls import KG_PER_M_35, roll, roll_notes, rolls, spiral_diameter, spiral_length
from interlock.plan.threading import plan_threading

INCH = 0.0254


@pytest.mark.parametrize(("outer_in", "core_in", "feet"), [(15, 2, 2729), (15, 5, 2470), (14, 4, 2223)])
def test_reels_hold_what_a_projectionists_school_lists(outer_in: float, core_in: float, feet: float) -> None:
    """[P] a projectionists' school's reel table, 35 mm polyester, all with t = 0.0053 in within 1 ft."""
    length_m = spiral_length(outer_in * INCH, core_in * INCH, 0.0053 * INCH)
    assert length_m / 0.3048 == pytest.approx(feet, abs=1.0)


@given(st.floats(0, 20_000), st.floats(0.01, 1.0), st.floats(5e-5, 5e-4))
def test_diameter_is_the_inverse_of_length(length_m: float, core_m: float, thickness_m: float) -> None:
    outer_m = spiral_diameter(length_m, core_m, thickness_m)
    assert spiral_length(outer_m, core_m, thickness_m) == pytest.approx(length_m, rel=1e-9, abs=1e-6)


def test_film_weighs_five_pounds_a_thousand_feet() -> None:
    """[P] municipal code; NFPA 40 (10 rolls = 51 lb): 25,000 ft = 125 lb."""
    assert pytest.approx(125) == 25_000 * 0.3048 * KG_PER_M_35 / 0.45359237


def test_wider_film_weighs_more() -> None:
    narrow, show = a_show(2), a_show(2)
    import msgspec  # noqa: PLC0415

    wide = msgspec.structs.replace(show, film_key="65mm-5p")
    per_m = [r.weight_kg / r.length_m for r in (roll(narrow, "a", 1000), roll(wide, "a", 1000))]
    assert per_m[1] == pytest.approx(2 * per_m[0])


def test_the_take_up_roll_is_all_the_film_there_is() -> None:
    show = a_show(3, tail="300 ft")
    threading = plan_threading(show)
    feed, take_up = rolls(show, threading)
    ahead_fr = show.first_picture_fr + sum(k.path_fr for k in (*show.links, show.take_up) if k is not None)
    allowance_m = 3.048 * len(threading.stretches)
    assert take_up.length_m == pytest.approx(
        show.film.metres_from_frames(show.length_fr + ahead_fr) + allowance_m
    )
    assert feed.length_m < take_up.length_m


def test_a_tail_that_lacks_is_counted_as_added() -> None:
    short, long = (a_show(3, tail=t) for t in ("1 ft", "94+00"))
    assert rolls(short, plan_threading(short))[1].length_m == pytest.approx(
        rolls(long, plan_threading(long))[1].length_m, abs=0.5
    )


def test_without_limits_nothing_is_judged() -> None:
    show = a_show(2)
    assert [(r.fits, r.bears) for r in rolls(show, plan_threading(show))] == [(None, None)] * 2
    assert roll_notes(show, plan_threading(show)) == []


def test_a_roll_too_large_or_too_heavy_says_by_how_much() -> None:
    show = a_show(2, more='[deck]\ndiameter = "20 in"\nweight = "10 lb"\n')
    said = roll_notes(show, plan_threading(show))
    assert len(said) == 4
    assert "The feed roll does not go on the deck" in said[0]
    assert "ft are too many" in said[0]
    assert "it bears 10 lb" in said[1]
    show = a_show(2, more='[deck]\ndiameter = "52 in"\nweight = "125 lb"\n')
    assert roll_notes(show, plan_threading(show)) == []
