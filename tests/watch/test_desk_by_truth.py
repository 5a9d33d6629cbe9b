"""What the campaign's oracle found in lamps and starts, once each: bugs of the desk that long lived in no test."""

from __future__ import annotations

import pytest

from interlock.watch.inputs import Anchor
from interlock.watch.raising import judge, settle
from interlock.watch.state import AlarmLine, LinkLine
from interlock.watch.world import World
from tests.watch.rig import WALL0_S, Rig, make_show

CLEAR_S = 60.6 + (288.0 + 720.0 + 600.0) / 24.0
"""The film of half a minute is through house 1, which then stands."""


def _shown() -> Rig:
    rig = Rig(make_show(2, minutes=0.5))
    rig.start(60.0)
    for k, truth in enumerate(rig.truth):
        clear_s = CLEAR_S + k * 200.0 / 24.0
        truth.spans, truth.film_gone_s = [(60.0, clear_s + 1.0)], clear_s
    return rig


def test_a_lamp_still_lit_five_minutes_after_the_last_picture_is_told_of_though_its_machine_has_long_stood() -> (
    None
):
    rig = _shown()
    last_picture_s = 60.6 + (288.0 + 720.0) / 24.0
    rig.truth[0].lamp = [rig.truth[0].lamp[0]]
    rig.go(last_picture_s + 299.0)
    assert rig.alarms() == []
    rig.go(last_picture_s + 303.0)
    assert rig.alarms() == [("lamp-left-on", "1")]
    line = next(x for x in rig.of(AlarmLine) if x.code == "lamp-left-on")
    assert line.show_s == pytest.approx(last_picture_s - 60.0 + 300.0, abs=0.3)
    assert line.priority == "low"


def test_a_lamp_put_out_within_five_minutes_is_not_told_of() -> None:
    rig = _shown()
    rig.truth[0].lamp = [rig.truth[0].lamp[0], 60.6 + (288.0 + 720.0) / 24.0 + 290.0]
    rig.go(60.6 + (288.0 + 720.0) / 24.0 + 310.0)
    assert rig.alarms() == []


def test_a_wall_clock_set_back_in_mid_show_makes_no_machine_one_that_started_too_early() -> None:
    rig = Rig(make_show(2))
    rig.start(60.0)
    rig.go(73.0)
    rig.feed(Anchor(rig.t, WALL0_S + rig.t - 26.6))
    rig.go(80.0)
    assert rig.alarms() == []


def test_a_machine_that_was_early_is_not_so_again_when_the_clock_is_set_back_in_mid_show() -> None:
    rig = Rig(make_show(2))
    rig.start(51.0)
    rig.go(73.0)
    rig.feed(Anchor(rig.t, WALL0_S + rig.t - 28.4))
    rig.go(80.0)
    assert [a for a in rig.alarms() if a[0] == "run-early"] == [("run-early", "1"), ("run-early", "2")]


def test_a_machine_that_seemed_early_by_a_clock_that_was_slow_is_cleared_when_the_clock_is_set_right() -> (
    None
):
    rig = Rig(make_show(2))
    rig.feed(Anchor(rig.t, WALL0_S - 20.0))
    rig.go(55.0)  # 35 by that clock: armed
    rig.start(60.0)
    rig.go(61.0)
    assert [a for a in rig.alarms() if a[0] == "run-early"] == [("run-early", "1"), ("run-early", "2")]
    rig.feed(Anchor(rig.t, WALL0_S + rig.t))
    rig.go(62.5)
    assert {x.subject for x in rig.of(AlarmLine) if x.code == "run-early" and not x.active} == {"1", "2"}


def test_a_machine_started_again_on_picture_has_a_shut_dowser_for_a_second_from_its_start_ramp_or_not() -> (
    None
):
    rig = Rig(make_show(2))
    rig.start(60.0)
    rig.truth[0].spans = [(60.0, 72.8), (80.0, 1e9)]
    rig.truth[0].dowser = [71.6, 72.9]
    rig.go(73.2)
    rig.do("stop-all")
    rig.go(79.0)
    rig.do("restart")
    rig.go(81.5)
    shut = [x.show_s for x in rig.of(AlarmLine) if x.code == "dowser-shut" and x.active]
    assert shut == pytest.approx([21.0], abs=0.01)


def test_while_a_machine_comes_up_to_speed_its_picture_is_no_further_off_than_at_speed() -> None:
    rig = Rig(make_show(2))
    rig.start(60.0)
    first_picture_s = 60.6 + 288.0 / 24.0
    for tenth in range(1, 20):
        rig.go(60.0 + tenth / 10.0)
        due = next(x.due_s for x in rig.desk.cues()[0] if x.cue == "open-dowser")
        assert due == pytest.approx(first_picture_s - 1.0 - 60.0, abs=0.35)


def test_a_loop_put_right_at_once_brings_none_of_the_milder_alarms_that_the_graver_one_had_replaced() -> None:
    rig = Rig(make_show(2))
    rig.start(60.0)
    rig.go(66.0)
    rig.do("rezero", link="1>2", drift_fr=60.0)
    rig.go(68.0)
    assert ("slack-lost", "1>2") in rig.alarms()
    before = len(rig.lines)
    rig.do("rezero", link="1>2", drift_fr=0.0)
    rig.go(72.0)
    said = [(x.code, x.state) for x in rig.of(AlarmLine, since=before) if x.code.startswith("slack")]
    assert [x for x in said if x[1] != "normal"] == [("slack-lost", "latched-unacknowledged")]


@pytest.mark.parametrize("ends", ["it stops", "it is counted again"])
def test_how_far_a_machine_ran_while_its_counter_was_dead_nobody_knows_until_its_loop_is_measured(
    ends: str,
) -> None:
    rig = Rig(make_show(2))
    rig.start(60.0)
    rig.go(66.0)
    true_fr = rig.truth[1].frames
    if ends == "it stops":
        rig.truth[1].frames = lambda t: true_fr(min(t, 66.0))  # type: ignore[method-assign]
        rig.truth[0].spans = rig.truth[1].spans = [(60.0, 72.0)]
    else:
        rig.truth[1].frames = lambda t: true_fr(min(t, 66.0)) + true_fr(max(t, 72.0)) - true_fr(72.0)  # type: ignore[method-assign]
    rig.go(76.0)
    said = [x for x in rig.lines if isinstance(x, LinkLine)][-1]
    assert said.drift_fr is None
    assert {code for code, _ in rig.alarms()} <= {"count-lost", "blind", "run-lost", "gate-heat"}
    rig.do("rezero", link="1>2", drift_fr=0.0)
    rig.go(78.0)
    said = [x for x in rig.lines if isinstance(x, LinkLine)][-1]
    assert said.drift_fr == pytest.approx(0.0, abs=1.0)


def test_a_milder_alarm_that_is_over_in_the_moment_in_which_the_graver_one_is_said_is_said_to_be_over() -> (
    None
):
    """The graver one comes back from its shelf just then, and no longer stands: nothing but this tells of the milder one."""
    w = World(make_show(2), Anchor(0.0, WALL0_S), rehearsal=False)
    w.phase = "running"
    judge(w, "slack-low", "1>2", condition=True)
    graver = w.alarm("slack-critical", "1>2")
    judge(w, "slack-low", "1>2", condition=False)
    w.t_s = w.alarms["slack-low", "1>2"].clear_due_s or 0.0
    settle(w, graver)
    assert [(x.code, x.state) for x in w.lines if isinstance(x, AlarmLine)] == [
        ("slack-low", "unacknowledged"),
        ("slack-low", "returned-unacknowledged"),
    ]


def test_what_was_so_before_the_start_is_told_of_at_the_start_and_not_with_the_next_second() -> None:
    rig = Rig(make_show(3))
    rig.start(60.3)
    rig.truth[2].film_gone_s = 30.0
    rig.go(61.5)
    line = next(x for x in rig.of(AlarmLine) if x.code == "film-out")
    assert line.subject == "3"
    assert line.show_s == pytest.approx(0.0, abs=0.02)
