"""Arming, show zero and the start: what the desk says when motors turn, on time, late, early, or not at all."""

from __future__ import annotations

import msgspec
import pytest
from rig import WALL0_S, Rig, make_show

from interlock.signals import Contacts, Counts
from interlock.watch.inputs import Anchor
from interlock.watch.state import AlarmLine, CueLine, HouseLine, LinkLine, ShowLine


def _phases(rig: Rig) -> list[str]:
    return [x.phase for x in rig.of(ShowLine)]


def test_a_show_on_time_goes_through_its_phases_without_one_alarm() -> None:
    rig = Rig(make_show(4, minutes=0.5))
    rig.start(60.0)
    rig.go(80.0)
    assert _phases(rig) == ["waiting", "armed", "starting", "running"]
    assert rig.alarms() == []
    assert rig.worst_drift_fr() < 0.1


def test_the_desk_arms_itself_thirty_seconds_before_motor_start_by_the_wall_clock() -> None:
    rig = Rig(make_show(2))
    rig.go(31.0)
    armed = [x for x in rig.of(ShowLine) if x.phase == "armed"]
    assert [x.at for x in armed] == ["2027-01-15T08:00:30.000Z"]


def test_a_wall_clock_that_steps_moves_the_arming_with_it() -> None:
    rig = Rig(make_show(2))
    rig.go(10.0)
    rig.feed(Anchor(10.0, WALL0_S + 20.0))
    rig.go(21.0)
    armed = [x for x in rig.of(ShowLine) if x.phase == "armed"]
    assert [x.at for x in armed] == ["2027-01-15T08:00:30.000Z"]


def test_what_is_jogged_while_threading_counts_for_nothing() -> None:
    rig = Rig(make_show(2))
    rig.truth[0].spans = [(5.0, 8.0), (60.0, 1e9)]
    rig.truth[1].spans = [(60.0, 1e9)]
    rig.go(70.0)
    drift = [x.drift_fr for x in rig.lines if isinstance(x, LinkLine)]
    assert (
        max(abs(d) for d in drift if d is not None) < 0.5
    )  # a jog leaves the frame anywhere between two pulses
    assert _phases(rig) == ["waiting", "armed", "starting", "running"]


def test_show_zero_is_the_first_motor_that_turns_and_the_plan_is_shifted_by_it() -> None:
    show = make_show(3, start_delay_s=0.5)
    rig = Rig(show)
    rig.start(62.5)
    rig.go(70.0)
    line = next(x for x in reversed(rig.lines) if isinstance(x, HouseLine) and x.house == "1")
    assert line.show_s == pytest.approx(7.5)
    assert line.expected_frame == pytest.approx(24.0 * (7.5 - 0.6) - 288.0)
    assert line.frame == pytest.approx(line.expected_frame, abs=0.1)


def test_the_last_house_late_is_start_late_on_it_and_slack_low_on_its_link_and_nothing_else() -> None:
    rig = Rig(make_show(4))
    rig.start(60.0, late={3: 1.35})
    rig.go(80.0)
    assert rig.alarms() == [("start-late", "4"), ("slack-low", "3>4")]
    late, low = [x for x in rig.of(AlarmLine) if x.state == "unacknowledged"]
    # [CP] an accumulator arm gives 2 s either way: 48 frames; half of it is 1 s of a start.
    assert late.values["crossed_s"] == pytest.approx(1.0, abs=0.01)
    assert low.group == late.group == late.seq
    assert late.first_out
    assert not low.first_out
    assert rig.worst_drift_fr() < 0.5


def test_an_alarm_is_dated_by_the_crossing_itself_and_said_at_that_moment() -> None:
    rig = Rig(make_show(2))
    rig.start(60.0, late={1: 30.0})
    rig.go(63.0)
    low = next(x for x in rig.of(AlarmLine) if x.code == "slack-low")
    assert low.show_s == pytest.approx(1.6, abs=0.001)
    assert low.values["crossed_s"] == pytest.approx(1.6, abs=0.001)


def test_a_house_that_turns_early_on_an_armed_desk_is_run_early_and_still_counts_as_drift() -> None:
    rig = Rig(make_show(2))
    rig.truth[0].spans = [(40.0, 40.5)]
    rig.go(42.0)
    assert ("run-early", "1") in rig.alarms()
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine))
    assert line.drift_fr == pytest.approx(rig.drift(0, 42.0), abs=0.5)
    assert line.drift_fr is not None
    assert line.drift_fr > 2.0


def test_a_house_that_turns_within_five_seconds_of_motor_start_is_not_early() -> None:
    rig = Rig(make_show(2))
    rig.start(56.0)
    rig.go(62.0)
    assert rig.alarms() == []


def test_disarm_before_the_desk_arms_itself_annuls_that_as_well() -> None:
    """contract.md: a desk arms itself 30 s before `motor_start`, or when told; `disarm` annuls both."""
    rig = Rig(make_show(2))
    rig.go(5.0)
    rig.do("disarm")
    rig.go(45.0)
    assert _phases(rig) == ["waiting"]
    rig.do("arm")
    assert _phases(rig) == ["waiting", "armed"]


def test_disarm_annuls_the_arming_and_the_desk_does_not_arm_itself_again() -> None:
    rig = Rig(make_show(2))
    rig.go(35.0)
    rig.do("disarm")
    rig.truth[0].spans = [(40.0, 45.0)]
    rig.go(65.0)
    assert _phases(rig) == ["waiting", "armed", "waiting"]
    assert rig.alarms() == []
    rig.do("arm")
    assert _phases(rig)[-1] == "armed"


def test_a_desk_that_finds_machines_turning_does_not_pretend_to_know_where_they_are() -> None:
    rig = Rig(make_show(2))
    rig.t = 59.0
    rig._tick = 9000  # the desk hears its first word in the middle of a run
    rig.start(60.0)
    rig.go(95.0)
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine))
    house = next(x for x in reversed(rig.lines) if isinstance(x, HouseLine))
    assert line.drift_fr is None
    assert house.frame is None
    rig.do("rezero", link="1>2", drift_fr=3.0)
    rig.do("mark", house="1", frame=500.0)
    rig.go(97.0)
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine))
    house = next(x for x in reversed(rig.lines) if isinstance(x, HouseLine) and x.house == "1")
    assert line.drift_fr == pytest.approx(3.0, abs=0.5)
    assert house.frame == pytest.approx(500.0 + 48.0, abs=2.0)


def test_cues_come_due_and_are_done_by_the_contacts_that_see_them() -> None:
    rig = Rig(make_show(2))
    rig.start(60.0)
    rig.go(85.0)
    strikes = [(x.house, x.state) for x in rig.of(CueLine) if x.cue == "strike-lamp" and x.state != "due"]
    assert strikes == [("1", "coming"), ("2", "coming"), ("1", "done"), ("2", "done")]
    due = next(x.due_s for x in rig.of(CueLine) if x.house == "1" and x.cue == "strike-lamp")
    assert due == pytest.approx(0.6 + 288.0 / 24.0 - 5.0, abs=0.01)


def test_a_strike_that_does_not_come_is_missed_and_an_alarm() -> None:
    rig = Rig(make_show(2, lamp_lead_s=30.0))
    rig.start(60.0, light=False)
    rig.go(100.0)
    assert [x.state for x in rig.of(CueLine) if x.house == "2" and x.cue == "strike-lamp"] == [
        "coming", "due", "missed",
    ]  # fmt: skip
    dark = [x for x in rig.of(AlarmLine) if x.code == "lamp-dark" and x.subject == "2"]
    assert [x.priority for x in dark] == ["medium", "high"][-len(dark) :]
    assert dark[-1].priority == "high"


@pytest.mark.parametrize("first_contacts_s", [0.05, 0.25, 0.65])
def test_a_counter_that_is_heard_before_any_contact_moves_nothing(first_contacts_s: float) -> None:
    rig = Rig(make_show(2))
    rig.do("arm")
    rig.start(1.0)
    for n in range(1, 30):
        t = n / 10
        for k, truth in enumerate(rig.truth):
            house, name = rig.show.houses[k].id, rig.show.adapters[k].name
            if t >= first_contacts_s:
                rig.feed(Contacts(t, t, name, ((f"{house}.run", truth.run(t)),)))
            run = int(truth.frames(t))
            pulse = truth.pulse_s(run, t) if run else -120.0
            rig.feed(Counts(t, t, name, ((f"{house}.frames", 4_294_967_000.0 + run, pulse),)))
    state = rig.desk.state()
    assert state.houses[0].frame == pytest.approx(rig.truth[0].frames(2.9) - 288.0, abs=0.6)
    assert state.links[0].drift_fr == pytest.approx(0.0, abs=0.6)
    assert {a[0] for a in rig.alarms()} <= {"run-early", "lamp-dark"}


def test_a_start_whose_own_line_was_lost_is_dated_by_the_pulses_that_came_before_the_word() -> None:
    rig = Rig(make_show(2))
    rig.start(60.0)
    honest = rig.truth[1].run
    rig.truth[1].run = lambda t: honest(t) and t > 60.24  # type: ignore[method-assign]
    rig.go(61.5)
    assert rig.worst_drift_fr() < 0.7


def test_a_dowser_that_is_still_shut_from_before_has_not_been_shut_as_its_later_cue_asks() -> None:
    rig = Rig(make_show(2, minutes=0.4))
    rig.start(60.0)
    rig.go(70.0)
    said = [(x.cue, x.state) for x in rig.of(CueLine) if x.house == "1"]
    assert ("close-dowser", "done") not in said
    assert ("lamp-off", "done") not in said


@pytest.mark.parametrize(("late_s", "phases"), [(1800.0, ["waiting", "armed"]), (86400.0, ["waiting"])])
def test_a_start_that_has_just_passed_arms_at_once_and_one_that_is_long_past_arms_nothing(
    late_s: float, phases: list[str]
) -> None:
    show = make_show(2)
    rig = Rig(msgspec.structs.replace(show, motor_start_wall_s=WALL0_S - late_s))
    rig.go(40.0)
    assert _phases(rig) == phases


def test_what_was_said_of_a_start_that_was_called_off_stands_no_longer_and_heat_does() -> None:
    rig = Rig(make_show(3))
    rig.start(60.0)
    rig.truth[1].spans = []  # house 2 does not start
    rig.truth[0].lamp = []
    rig.go(75.0)
    assert {("start-late", "2"), ("lamp-dark", "1")} <= set(rig.alarms())
    rig.do("disarm")
    rig.go(81.0)  # lit, open, and nothing moves
    assert [(a.code, a.subject) for a in rig.desk.state().alarms if a.active] == [("gate-heat", "2")]


def test_a_lamp_that_burned_on_picture_before_a_start_was_called_off_is_still_to_be_struck_at_the_next() -> (
    None
):
    rig = Rig(msgspec.structs.replace(make_show(2), first_picture_fr=24.0))
    rig.start(60.0)
    rig.truth[1].spans = []  # so long as one stands, all are starting
    rig.truth[0].lamp, rig.truth[0].dowser = [59.0, 66.0], [59.5]
    rig.go(65.0)
    rig.do("disarm")
    rig.truth[0].spans = [(60.0, 66.0)]
    rig.go(70.0)
    rig.do("arm")
    rig.truth[0].spans = [(60.0, 66.0), (80.0, 1e9)]
    before = len(rig.lines)
    rig.go(95.0)
    assert ("lamp-dark", "1") in [(x.code, x.subject) for x in rig.of(AlarmLine, before)]
    assert ("lamp-out", "1") not in [(x.code, x.subject) for x in rig.of(AlarmLine, before)]
