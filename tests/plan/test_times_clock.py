"""The clock times of every house: from doors to clear, over a change of clocks, and what they clash with."""

from __future__ import annotations

import pytest
from threading_shows import a_show

from interlock.plan.timeline import house_times
from interlock.plan.times import WHAT, clashes, clock_text, clocks, clocks_change, local


def test_every_house_has_all_its_times_in_order() -> None:
    for clock in clocks(a_show(4)):
        times = list(clock.times())
        assert [what for what, _ in times] == list(WHAT)
        order = [t for what, t in times if what not in {"doors", "lamp", "motor"}]
        assert order == sorted(order)


def test_the_times_are_the_plans_and_the_doors_open_before_the_first_picture() -> None:
    show = a_show(3, all_houses='doors = "40 min"')
    for clock, t in zip(clocks(show), house_times(show), strict=True):
        assert (clock.lamp_s, clock.dowser_s) == (t.strike_lamp_s, t.open_dowser_s)
        assert (clock.first_picture_s, clock.last_picture_s, clock.clear_s) == (
            t.first_picture_s,
            t.last_picture_s,
            t.tail_clear_s,
        )
        assert clock.doors_s == t.first_picture_s - 2400
        # The trailer is 90+00: 1,440 frames, a minute.
        assert clock.feature_s == pytest.approx(t.first_picture_s + 60)


def test_a_dark_house_has_no_doors_no_lamp_and_no_dowser() -> None:
    clock = clocks(a_show(2, house_keys={"2": "lit = false"}))[1]
    assert {what for what, _ in clock.times()} == {
        "motor",
        "first picture",
        "feature",
        "last picture",
        "clear",
    }


def test_times_are_local_and_say_so_when_it_is_tomorrow() -> None:
    """19:25 in the Azores (−01:00) on 5 December 2026; the film is out after 23:30 + 1:30."""
    show = a_show(2, motor_start="2026-12-05T23:30:00")
    assert clock_text(show, 0) == "23:30:00"
    assert clock_text(show, 3600) == "00:30:00 +1d"
    assert clock_text(show, -86400) == "23:30:00 -1d"
    assert clock_text(show, 0, offset=True) == "23:30:00 -0100"


@pytest.mark.parametrize(
    ("start", "after", "shown"),
    [
        # Lisbon, 28 March 2027: 01:00 +0000 becomes 02:00 +0100. 25 October 2026: 02:00 +0100 becomes 01:00 +0000.
        ("2027-03-28T00:30:00", 3600, "02:30:00 +0100"),
        ("2026-10-25T01:30:00+01:00", 3600, "01:30:00 +0000"),
    ],
)
def test_an_hour_is_an_hour_over_a_change_of_clocks(start: str, after: float, shown: str) -> None:
    """[M] the European Union's rule: 01:00 UTC on the last Sundays of March and October."""
    show = a_show(2, motor_start=start, timezone="Europe/Lisbon")
    assert clocks_change(show)
    assert clock_text(show, after) == shown
    assert local(show, after).timestamp() - local(show, 0).timestamp() == after


def test_a_next_show_that_begins_before_the_house_is_free_is_a_clash() -> None:
    """Last picture about 20:59 in house 1, so with 20 min to turn it round it is free after 21:18."""
    show = a_show(
        3,
        house_keys={
            "1": "next_show = 2026-12-05T21:10:00",
            "2": "next_show = 2026-12-05T22:10:00",
            "3": "next_show = 2026-12-05T20:30:00",
        },
    )
    said = clashes(show)
    assert [text.split(":")[0] for text in said] == ["House 1", "House 3"]
    assert "the next show begins at 21:10:00" in said[0]
    assert "20 min to turn it round" in said[0]


def test_film_that_is_still_in_the_machine_is_a_clash_as_well() -> None:
    show = a_show(2, tail="2000 ft", house_keys={"1": 'turnaround = "0 s"\nnext_show = 2026-12-05T21:05:00'})
    (said,) = clashes(show)
    assert "the film's end leaves its machine at" in said


def test_a_next_show_in_the_small_hours_is_taken_for_what_it_says() -> None:
    show = a_show(2, house_keys={"1": "next_show = 2026-12-06T00:15:00"})
    assert clocks(show)[0].next_show_s == pytest.approx((4 * 60 + 50) * 60)
    assert clashes(show) == []
