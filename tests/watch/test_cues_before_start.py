"""Cues that fall due before any motor turns: with a long lamp lead and little leader a lamp is struck first."""

from __future__ import annotations

import pytest
from rig import Rig, make_show

from interlock.watch.inputs import Anchor
from interlock.watch.state import CueLine

# first_picture_s = ramp/2 + 288/24 = 12.6; strike_lamp_s = 12.6 − 45 (contract.md); motor_start is desk second 60.
STRIKE_S = 12.6 - 45.0
WALL0_S = 1_800_000_000.0


def strikes(rig: Rig, house: str = "1") -> list[tuple[str, float]]:
    """(state, seconds before or after motor_start) of the cue to strike."""
    found = [x for x in rig.of(CueLine) if (x.house, x.cue) == (house, "strike-lamp")]
    return [(x.state, float(x.at[17:23]) + 60.0 * int(x.at[14:16]) - 60.0) for x in found]


def early() -> Rig:
    """House 1 has 45 s of lamp lead."""
    rig = Rig(make_show(2, lamp_lead_s=45.0))
    rig.up()
    return rig


def test_a_lamp_that_is_due_before_the_motors_is_cued_by_the_clock_and_done_when_it_burns() -> None:
    rig = early()
    rig.truth[0].lamp = [29.0]
    rig.go(50.0)
    assert [state for state, _ in strikes(rig)] == ["coming", "due", "done"]
    assert [at_s for _, at_s in strikes(rig)][1:] == pytest.approx([STRIKE_S, 29.0 - 60.0], abs=0.011)
    line = next(x for x in rig.of(CueLine) if x.state == "due")
    assert (line.show_s, line.due_s) == (None, pytest.approx(STRIKE_S))
    assert ("1", "strike-lamp") not in [(c.house, c.cue) for c in rig.desk.state().cues]


def test_it_is_missed_ten_seconds_later_and_stays_on_the_board_for_a_minute() -> None:
    rig = early()
    rig.go(50.0)
    assert strikes(rig)[-1] == ("missed", pytest.approx(STRIKE_S + 10.0, abs=0.011))
    assert ("1", "strike-lamp", "missed") in [(c.house, c.cue, c.state) for c in rig.desk.state().cues]


def test_what_was_missed_stays_on_the_board_while_the_motors_are_late() -> None:
    rig = early()
    rig.go(70.0)
    assert rig.desk.state().phase == "armed"
    assert ("1", "strike-lamp", "missed") in [(c.house, c.cue, c.state) for c in rig.desk.state().cues]
    rig.go(60.0 + STRIKE_S + 61.0)
    assert ("1", "strike-lamp", "missed") not in [(c.house, c.cue, c.state) for c in rig.desk.state().cues]


def test_what_needs_film_to_run_waits_for_the_motors() -> None:
    rig = early()
    rig.go(59.0)
    assert {x.cue for x in rig.of(CueLine)} == {"strike-lamp"}
    assert {x.house for x in rig.of(CueLine)} == {"1", "2"}, "200 frames later, and still before the start"


def test_a_clock_that_is_put_right_moves_the_cue_with_it() -> None:
    rig = early()
    rig.go(5.0)
    rig.feed(Anchor(5.0, WALL0_S + 15.0))
    rig.go(30.0)
    assert strikes(rig)[1] == ("due", pytest.approx(STRIKE_S, abs=0.011))


def test_nobody_is_cued_for_a_start_that_was_called_off_and_all_is_cued_anew_when_it_is_armed_again() -> None:
    rig = early()
    rig.do("disarm")
    rig.truth[0].lamp = [49.0]
    rig.go(50.0)
    assert {state for state, _ in strikes(rig)} <= {"coming"}, "as it was before anybody called it off"
    rig.do("arm")
    rig.start(60.0, light=False)
    rig.go(61.0)
    assert strikes(rig)[-1][0] == "done"
    rig.do("disarm")
    before = len(rig.lines)
    rig.truth[0].spans = [(60.0, 61.0)]
    rig.truth[1].spans = [(60.0, 61.0)]
    rig.go(70.0)
    rig.do("arm")
    rig.truth[0].spans += [(75.0, 1e9)]
    rig.truth[1].spans += [(75.0, 1e9)]
    rig.go(80.0)
    said = [(x.house, x.cue, x.state) for x in rig.of(CueLine, before)]
    assert ("1", "strike-lamp", "done") in said, "it burns"
    assert ("1", "open-dowser", "coming") in said
