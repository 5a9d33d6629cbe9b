"""What people say to the desk: each action does what contract.md says, or is refused, changes nothing, and says why."""

from __future__ import annotations

import pytest
from rig import Rig, make_show, running

from interlock.watch.state import AlarmLine, HouseLine, LinkLine, OperatorLine


def _running(n: int = 3) -> Rig:
    return running(n, minutes=5.0)


def _last(rig: Rig, link: str) -> LinkLine:
    return next(x for x in reversed(rig.lines) if isinstance(x, LinkLine) and x.link == link)


def _house(rig: Rig, house: str) -> HouseLine:
    return next(x for x in reversed(rig.lines) if isinstance(x, HouseLine) and x.house == house)


def _operator(lines: list[object]) -> OperatorLine:
    return next(x for x in lines if isinstance(x, OperatorLine))


def test_an_alarm_is_acknowledged_shelved_and_brought_back_each_with_a_line_and_whose_word_it_was() -> None:
    rig = _running()
    rig.truth[0].lamp = [rig.truth[0].lamp[0], 105.0]
    rig.go(106.0)
    said = rig.do("ack", subject="1", code="lamp-out", by="Ines", booth="north")
    operator, alarm = said
    assert isinstance(operator, OperatorLine)
    assert isinstance(alarm, AlarmLine)
    assert (operator.by, operator.booth, operator.refused) == ("Ines", "north", None)
    assert alarm.state == "acknowledged"
    shelved = rig.do("shelve", subject="1", code="lamp-out", for_s=20.0)
    assert [x.state for x in shelved if isinstance(x, AlarmLine)] == ["shelved"]
    rig.go(127.0)
    back = [x for x in rig.of(AlarmLine) if x.code == "lamp-out"][-1]
    assert back.state == "unacknowledged"
    assert back.show_s == pytest.approx(66.0, abs=0.02)


def test_a_shelf_without_an_end_given_ends_after_ten_minutes() -> None:
    rig = _running()
    rig.truth[0].lamp = [rig.truth[0].lamp[0], 101.0]
    rig.go(102.0)
    line = next(x for x in rig.do("shelve", subject="1", code="lamp-out") if isinstance(x, AlarmLine))
    assert line.until_at == "2027-01-15T08:11:42.000Z"


@pytest.mark.parametrize(
    ("action", "keys", "words"),
    [
        ("ack", {"subject": "9", "code": "run-lost"}, "there is no alarm"),
        ("ack", {}, "needs subject and code"),
        ("mark", {"house": "9"}, "there is no house"),
        ("relace", {"house": "1", "n_fr": 3.0}, "turning"),
        ("rezero", {"link": "1>3"}, "there is no link"),
        ("parted", {"link": "9>1"}, "there is no link"),
        ("arm", {}, "running"),
        ("restart", {}, "running"),
        ("handover", {}, "needs by"),
        ("speed", {"x": 2.0}, "rehearsals only"),
        ("fault", {"fault": "{}"}, "rehearsals only"),
        ("light", {"house": "1"}, "already"),
        ("note", {}, "needs text"),
        ("dance", {}, "there is no action"),
    ],
)
def test_what_cannot_be_done_is_refused_in_words_and_changes_nothing(
    action: str, keys: dict[str, object], words: str
) -> None:
    rig = _running()
    before = rig.desk.state()
    said = rig.do(action, **keys)
    operator = _operator(said)  # type: ignore[arg-type]
    assert operator.refused is not None
    assert words in operator.refused
    assert len(said) == 1
    after = rig.desk.state()
    assert (after.phase, after.houses[0].frame, after.links[0].drift_fr, after.alarms) == (
        before.phase, before.houses[0].frame, before.links[0].drift_fr, before.alarms,
    )  # fmt: skip


def test_a_mark_corrects_where_the_print_is_and_never_the_drift() -> None:
    rig = _running()
    drift = rig.desk.state().links[0].drift_fr
    rig.do("mark", house="2", frame=1000.0)
    state = rig.desk.state()
    assert state.houses[1].frame == pytest.approx(1000.0)
    assert state.houses[1].sigma_fr == pytest.approx(12.0, abs=0.2)
    assert state.links[0].drift_fr == drift


@pytest.mark.parametrize("frame", [999_999_999.0, 3481.0, -5000.0])
def test_a_mark_that_no_film_can_make_is_refused_and_moves_no_house(frame: float) -> None:
    rig = Rig(
        make_show(2)
    )  # 2,880 frames and a tail of 600; house 2 is threaded 488 frames before its picture
    rig.start(60.0)
    rig.go(80.0)
    before = _house(rig, "2").frame
    said = _operator(rig.do("mark", house="2", frame=frame))
    assert said.refused == f"found frame {frame:.10g}, but in house 2 there can be -488 to 3480"
    after = rig.desk.state().houses[1]
    assert after.phase == "leader"
    assert before is not None
    assert after.frame == pytest.approx(before, abs=24.0)


def test_a_splice_marked_in_two_neighbouring_gates_twice_tells_nothing_false_of_their_drift() -> None:
    rig = _running()
    rig.do("mark", house="1", frame=500.0)
    rig.do("mark", house="2", frame=300.0)
    rig.go(110.0)
    assert _last(rig, "1>2").drift_fr == pytest.approx(0.0, abs=0.1)


def test_relace_on_a_standing_machine_takes_from_the_loop_before_it_and_gives_to_the_one_behind() -> None:
    rig = _running()
    rig.do("stop-all")
    for truth in rig.truth:
        truth.spans = [(60.0, 101.0)]
    rig.go(110.0)
    frame = _house(rig, "2").frame
    rig.do("relace", house="2", n_fr=10.0)
    rig.go(111.5)
    assert _last(rig, "1>2").drift_fr == pytest.approx(-10.0, abs=0.2)
    assert _last(rig, "2>3").drift_fr == pytest.approx(10.0, abs=0.2)
    assert frame is not None
    assert _house(rig, "2").frame == pytest.approx(frame + 10.0, abs=0.2)


def test_rezero_says_what_the_loop_is_and_brings_a_parted_link_back() -> None:
    rig = _running()
    rig.do("parted", link="1>2")
    rig.go(102.0)
    assert (_last(rig, "1>2").state, _last(rig, "1>2").drift_fr) == ("parted", None)
    rig.do("rezero", link="1>2", drift_fr=-7.0)
    rig.go(104.0)
    assert _last(rig, "1>2").state == "running"
    assert _last(rig, "1>2").drift_fr == pytest.approx(-7.0, abs=0.1)


def test_a_dark_house_has_no_alarm_and_no_cue_of_light() -> None:
    rig = Rig(make_show(2))
    rig.start(60.0, light=False)
    rig.go(50.0)
    rig.do("dark", house="1")
    rig.do("dark", house="2")
    rig.go(100.0)
    assert rig.alarms() == []
    assert {x.cue for x in rig.desk.state().cues} == {"motor-off"}
    assert _house(rig, "1").dark


def test_silence_is_not_acknowledgement_and_ends_with_the_next_alarm() -> None:
    rig = _running()
    rig.truth[0].lamp = [rig.truth[0].lamp[0], 101.0]
    rig.go(102.0)
    rig.do("silence")
    state = rig.desk.state()
    assert state.silenced
    assert state.alarms[0].state == "unacknowledged"
    rig.truth[1].lamp = [rig.truth[1].lamp[0], 103.0]
    rig.go(104.0)
    assert not rig.desk.state().silenced


def test_the_first_out_mark_stays_until_the_group_is_reset() -> None:
    rig = _running()
    rig.truth[1].spans = [(60.0, 105.0)]
    rig.go(109.0)
    trip = next(x for x in rig.desk.state().alarms if x.code == "run-lost")
    rig.do("ack", subject="2", code="run-lost")
    assert next(x for x in rig.desk.state().alarms if x.code == "run-lost").first_out
    rig.do("reset", group=trip.group)
    assert not any(x.first_out for x in rig.desk.state().alarms)


def test_a_latched_slack_lost_is_reset_only_when_it_has_cleared_and_been_acknowledged() -> None:
    rig = _running()
    rig.truth[1].spans = [(60.0, 105.0)]
    rig.go(109.0)
    lost = {"subject": "1>2", "code": "slack-lost"}
    assert _operator(rig.do("reset", **lost)).refused is not None  # type: ignore[arg-type]
    rig.do("ack", **lost)
    rig.do("rezero", link="1>2")
    rig.truth[0].spans = [(60.0, 109.0)]
    rig.truth[2].spans = [(60.0, 109.0)]
    rig.go(112.0)
    states = [x.state for x in rig.of(AlarmLine) if (x.code, x.subject) == ("slack-lost", "1>2")]
    assert states == ["unacknowledged", "acknowledged", "latched-acknowledged"]
    assert _operator(rig.do("reset", **lost)).refused is None  # type: ignore[arg-type]


def test_a_handover_says_who_leads_from_now_on() -> None:
    rig = _running()
    rig.do("handover", by="Teo", booth="south")
    state = rig.desk.state()
    assert (state.leads, state.booth) == ("Teo", "south")


def test_a_note_is_in_the_record_with_its_words() -> None:
    rig = _running()
    line = _operator(rig.do("note", text="splice chattered in 2", subject="2"))  # type: ignore[arg-type]
    assert line.keys == {"text": "splice chattered in 2", "subject": "2"}


def test_a_jog_on_an_armed_desk_can_be_taken_back_until_there_was_picture() -> None:
    rig = Rig(make_show(2))
    rig.up()
    rig.go(30.0)
    rig.do("arm")
    rig.truth[0].spans = [(40.0, 41.0)]
    rig.go(45.0)
    assert rig.desk.state().phase == "stopped"
    assert _operator(rig.do("disarm")).refused is None
    state = rig.desk.state()
    assert state.phase == "waiting"
    assert not [a for a in state.alarms if a.active]
    rig.do("arm")
    assert rig.desk.state().links[0].drift_fr == pytest.approx(0.0, abs=1e-9)
    rig.start(60.0)
    rig.go(80.0)
    rig.do("stop-all")
    for truth in rig.truth:
        truth.spans = [(60.0, 80.5)]
    rig.go(85.0)
    assert rig.desk.state().houses[0].phase == "picture"
    assert _operator(rig.do("disarm")).refused == "the show is stopped: there is nothing to disarm"
