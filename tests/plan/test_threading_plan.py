"""A whole show's threading: where stretches begin and end, in which order, what cannot be done and why, how long."""

from __future__ import annotations

import math

import msgspec
import pytest
from threading_shows import a_show

from interlock.plan.check_notes import notes
from interlock.plan.threading import plan_threading
from interlock.plan.threading_ends import run_out, tail
from interlock.plan.timeline import house_times
from interlock.showfile.show import Show


def with_threading(show: Show, **settings: object) -> Show:
    """The same show with other settings of ``[threading]``."""
    return msgspec.structs.replace(show, threading=msgspec.structs.replace(show.threading, **settings))


def test_a_short_path_is_one_stretch_from_platter_to_platter() -> None:
    threading = plan_threading(a_show(2))
    (only,) = threading.stretches
    assert (only.begin.name, only.end.name) == ("the feed platter", "the take-up platter")
    assert only.can_be_done
    assert threading.joins == ()


def test_stretches_are_threaded_from_the_far_end_back_and_joined_where_the_one_before_ends() -> None:
    threading = plan_threading(a_show(8, rollers=14))
    assert [s.number for s in threading.stretches] == [1, 2, 3]
    assert threading.stretches[0].end.id == "take-up"
    assert threading.stretches[-1].begin.id == "feed"
    for earlier, later in zip(threading.stretches, threading.stretches[1:], strict=False):
        assert later.end == earlier.begin
    assert threading.joins == tuple(s.begin for s in threading.stretches[:-1])
    assert all(s.pull_n <= threading.limit_n for s in threading.stretches)


def test_leader_is_all_links_and_an_allowance_for_each_stretch() -> None:
    show = a_show(8, rollers=14)
    threading = plan_threading(show)
    feet = show.film.tape_ft_from_frames
    assert feet(threading.path_fr) == pytest.approx(30 + 7 * 80 + 30)
    assert feet(threading.leader_fr) == pytest.approx(620 + 3 * 10)
    assert threading.rollers == 5 + 7 * 14 + 5 == sum(s.rollers for s in threading.stretches)


def test_a_stretch_ends_only_where_somebody_can_stand() -> None:
    nobody = {str(k): "threads_from = false" for k in range(1, 9)}
    tables = {"4>5": 'tables = ["40 ft"]'}
    threading = plan_threading(a_show(8, rollers=6, house_keys=nobody, link_keys=tables))
    assert {s.begin.kind for s in threading.stretches} <= {"table", "deck"}
    open_houses = plan_threading(a_show(8, rollers=14))
    assert {s.begin.kind for s in open_houses.stretches[:-1]} == {"house"}


def test_without_platters_the_path_begins_at_the_first_house_and_ends_at_the_last() -> None:
    show = msgspec.structs.replace(a_show(3), feed=None, take_up=None)
    (only,) = plan_threading(show).stretches
    assert (only.begin.id, only.end.id) == ("1", "3")


def test_the_limit_is_the_hands_or_the_splices_whichever_is_less() -> None:
    show = a_show(8, rollers=14)
    assert plan_threading(show).limit_of == "hand"
    weak = plan_threading(with_threading(show, splice_n=8.0))
    assert (weak.limit_of, weak.limit_n) == ("splice", 8.0)
    assert len(weak.stretches) > 3


def test_a_link_that_cannot_be_threaded_is_named_with_a_table_that_would_do() -> None:
    show = a_show(3, link_keys={"1>2": "rollers = 80"})
    hopeless = [s for s in plan_threading(show).stretches if not s.can_be_done]
    assert [s.end.id for s in hopeless] == ["2"]
    said = hopeless[0].remedy
    assert "Link 1>2 cannot be threaded in one piece" in said
    assert "add a make-up table not later than" in said.lower()
    assert any("link 1>2" in note and "cannot be pulled" in note for note in notes(show))
    feet = int(said.lower().split("not later than ")[1].split(" ft")[0])
    # A table that the sentence asks for does help.
    mended = a_show(3, link_keys={"1>2": f'rollers = 80\ntables = ["{feet - 1} ft"]'})
    assert all(s.can_be_done for s in plan_threading(mended).stretches)


def test_stuck_rollers_are_named_with_what_turning_them_would_give() -> None:
    show = a_show(3, link_keys={"1>2": "rollers = 12\nwrap = '180 deg'\nstuck = [2, 4, 6, 8, 10, 12]"})
    (hopeless,) = [s for s in plan_threading(show).stretches if not s.can_be_done]
    assert "with rollers 2 of 1>2, 4 of 1>2" in hopeless.remedy.lower()
    assert "enough" in hopeless.remedy
    assert "not enough" not in hopeless.remedy
    assert "a splice would not bear it either" in hopeless.remedy


def test_a_roller_that_is_too_much_by_itself_needs_to_turn() -> None:
    show = with_threading(
        a_show(3, link_keys={"1>2": "rollers = 3\nwrap = '360 deg'\nstuck = [2]"}), stuck_friction=1.0
    )
    (hopeless,) = [s for s in plan_threading(show).stretches if not s.can_be_done]
    assert "no table helps at roller 2 of 1>2" in hopeless.remedy.lower()


def test_a_house_where_nobody_can_stand_is_part_of_the_remedy() -> None:
    show = a_show(3, rollers=40, house_keys={"2": "threads_from = false"})
    hopeless = [s for s in plan_threading(show).stretches if not s.can_be_done]
    assert any("make a place to stand at house 2" in s.remedy for s in hopeless)


def test_more_people_are_never_slower_and_one_alone_walks_twice() -> None:
    show = a_show(8, rollers=14)
    times = [plan_threading(with_threading(show, crew=crew)).time_s for crew in (1, 2, 3, 4, 6, 8)]
    assert times == sorted(times, reverse=True)
    one, two = times[:2]
    walk_s = show.film.metres_from_frames(plan_threading(show).path_fr) / 0.5
    assert one - two == pytest.approx(walk_s + 4 * 90)  # and laces all eight machines, not four


def test_a_chain_of_the_usual_size_is_threaded_as_practice_does_it() -> None:
    """[CP] some 2,200 ft and 200 rollers: about three stretches joined at machines, about 45 minutes for a practised
    crew, some 150 ft of extra tail. Same order of magnitude: within a factor of two."""
    show = a_show(15, link_ft=153, rollers=14, link_keys={"7>8": "rollers = 12"})
    threading = plan_threading(show)
    assert show.film.tape_ft_from_frames(threading.path_fr) == pytest.approx(2200, rel=0.02)
    assert threading.rollers == pytest.approx(200, abs=10)
    assert 2 <= len(threading.stretches) <= 6
    assert all(s.can_be_done for s in threading.stretches)
    assert all(station.kind == "house" for station in threading.joins)
    assert 22.5 * 60 <= threading.time_s <= 90 * 60
    assert 75 <= float(show.film.film_ft_from_frames(math.ceil(tail(show).need_fr))) <= 300


def test_the_tail_must_reach_over_the_longest_link_its_loop_and_a_margin() -> None:
    show = a_show(3, link_keys={"2>3": 'path = "38 m"'}, tail="100 ft")
    need = tail(show)
    assert need.link == "2>3"
    assert need.least_fr == pytest.approx(38_000 / 19 + 48)
    assert need.need_fr == pytest.approx(2048 + 160)
    assert (need.have_fr, need.short_fr) == (1600, pytest.approx(608))
    assert any("Add at least 28+00 of tail leader" in note for note in notes(show))
    assert tail(a_show(3, tail="300 ft")).short_fr == 0


def test_machines_stop_in_film_order_once_the_film_has_left_them_and_wired_stops_are_bypassed_first() -> None:
    show = a_show(3, link_keys={"2>3": "wired = true"})
    steps = run_out(show)
    assert [(step.house, step.bypass) for step in steps] == [("1", ""), ("2", "2>3"), ("3", "")]
    assert [step.plan_s for step in steps] == [t.tail_clear_s for t in house_times(show)]
    assert [step.plan_s for step in steps] == sorted(step.plan_s for step in steps)


def test_the_check_says_how_many_stretches_there_are() -> None:
    assert any("threaded in 3 stretches" in note for note in notes(a_show(8, rollers=14)))
    assert not any("stretches" in note for note in notes(a_show(2)))
