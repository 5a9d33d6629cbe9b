"""Every fault of the booth does what it says, and passes when it should."""

from __future__ import annotations

from pathlib import Path

import pytest
from sim_heard import contact, frames, run
from sim_specs import FPS, booth_spec, booth_with, happened, room_with

from drivers.simulator.faults import KINDS, fault_kinds, parse_fault
from interlock.errors import ActionError


def test_trip_stops_the_motor_and_the_contact_says_so() -> None:
    booth, said = run(30, {"kind": "trip", "house": "2", "at": "20 s"})
    assert contact(said, "2.run") == [
        (pytest.approx(-60, abs=0.3), False), (pytest.approx(0, abs=0.002), True), (pytest.approx(20, abs=0.002), False),
    ]  # fmt: skip
    assert booth.room.truth().machines[1].fps == 0


def test_no_start_leaves_the_machine_standing() -> None:
    booth, _ = run(1.5, {"kind": "no-start", "house": "2"})
    assert [m.fps > 0 for m in booth.room.truth().machines] == [True, False, True]


def test_start_late_is_late_by_what_it_says() -> None:
    _, said = run(5, {"kind": "start-late", "house": "2", "by": "0.75 s"})
    assert contact(said, "2.run")[1] == (pytest.approx(0.75, abs=0.002), True)


def test_creep_changes_the_speed_and_passes() -> None:
    room = room_with({"kind": "creep", "house": "1", "by": "+0.5 %", "at": "10 s", "for": "20 s"})
    room.advance(60)
    assert room.truth(15).machines[0].fps == pytest.approx(FPS * 1.005)
    assert room.truth(31).machines[0].fps == pytest.approx(FPS)
    assert room.truth().loops[0].drift_fr == pytest.approx(FPS * 0.005 * 20)


def test_speed_is_another_speed_altogether() -> None:
    room = room_with({"kind": "speed", "house": "3", "fps": "22 fps", "at": "10 s", "for": "5 s"})
    room.advance(60)
    assert room.truth(12).machines[2].fps == 22
    assert room.truth().loops[1].drift_fr == pytest.approx(2 * 5)


def test_wander_swings_about_the_speed() -> None:
    room = room_with(
        {"kind": "wander", "house": "1", "by": "1 %", "at": "10 s"}, spec=booth_spec(1, minutes=20)
    )
    room.advance(1000)
    offs = [room.truth(t + 0.5).machines[0].fps / FPS - 1 for t in range(20, 1000)]
    assert 0.006 < (sum(o * o for o in offs) / len(offs)) ** 0.5 < 0.015


def test_mains_take_all_but_crystals_along_and_no_link_with_them() -> None:
    spec = booth_spec(3, motor="synchronous")
    room = room_with({"kind": "mains", "by": "-1 %", "at": "10 s", "for": "50 s"}, spec=spec)
    room.advance(70)
    assert room.truth(30).machines[0].fps == pytest.approx(FPS * 0.99, rel=0.002)
    assert room.truth(65).machines[0].fps == pytest.approx(FPS, rel=0.002)
    assert abs(room.truth().loops[0].drift_fr) < 1e-6


def test_jog_turns_a_house_before_the_start_and_the_start_still_comes() -> None:
    _, said = run(5, {"kind": "jog", "house": "3", "at": "-20 s", "for": "2 s"})
    assert [(round(t, 2), v) for t, v in contact(said, "3.run")[1:]] == [
        (-20.0, True),
        (-18.0, False),
        (0.0, True),
    ]
    jogged_fr = FPS * (2 - 0.6) + FPS * 0.4 / 2
    assert frames(said, "3", -1) == int(jogged_fr)


def test_pass_film_moves_the_counter_of_a_standing_machine_only() -> None:
    fault = {"kind": "pass-film", "house": "2", "n": "12 fr"}
    booth, said = run(-5, fault | {"at": "-10 s"})
    assert frames(said, "2") == 12
    assert [p.drift_fr for p in booth.room.truth().loops] == [-12, 12]
    running, _ = run(20, fault | {"at": "10 s"})
    assert running.room.truth().loops[0].drift_fr == pytest.approx(0)


def test_when_tight_decides_what_gives_way() -> None:
    for then, what in (("stalls", "stop"), ("parts", "parted")):
        room = room_with(
            {"kind": "when-tight", "link": "1>2", "then": then}, {"kind": "trip", "house": "1", "at": "9 s"}
        )
        room.advance(12)
        assert len(happened(room, "parted")) == (then == "parts")
        assert happened(room, what)


def test_splice_parts_and_the_film_is_seen_to_be_out() -> None:
    booth, said = run(60, {"kind": "splice-parts", "link": "1>2", "at": "20 s"})
    assert booth.room.truth().loops[0].parted
    assert contact(said, "2.film")[-1][1] is False
    assert contact(said, "1.film")[-1][1] is True
    assert contact(said, "1>2.spill")[-1] == (pytest.approx(20.2, abs=0.003), True), "the arm falls"


def test_a_feed_that_stops_is_pulled_until_the_first_machine_stalls() -> None:
    room = room_with({"kind": "platter-stops", "platter": "feed", "at": "20 s"})
    room.advance(30)
    assert happened(room, "stop")[0] == (pytest.approx(22.0), "1", "stalled")


def test_a_take_up_that_stops_and_turns_again_is_told_and_stops_nobody() -> None:
    booth, said = run(40, {"kind": "platter-stops", "platter": "take-up", "at": "20 s", "for": "5 s"})
    assert [(round(t, 1), v) for t, v in contact(said, "take-up.run")[1:]] == [
        (0.3, True),
        (20.0, False),
        (25.0, True),
    ]
    assert not happened(booth.room, "stop")


def test_lamp_fails_as_often_as_it_says_and_is_struck_again() -> None:
    room = room_with({"kind": "lamp-fails", "house": "1", "tries": 2, "retry": "4 s"})
    room.advance(60)
    failed, lit = happened(room, "lamp-failed"), happened(room, "lamp-lit")
    assert [h for _, h, _ in failed] == ["1", "1"]
    assert lit[0][0] == pytest.approx(failed[0][0] + 8.2)
    never = room_with({"kind": "lamp-fails", "house": "1"})
    never.advance(100)
    assert "1" not in [h for _, h, _ in happened(never, "lamp-lit")]


def test_lamp_late_and_dowser_late_are_late_by_what_they_say() -> None:
    plain = room_with()
    late = room_with(
        {"kind": "lamp-late", "house": "1", "by": "3 s"}, {"kind": "dowser-late", "house": "1", "by": "2 s"}
    )
    plain.advance(60)
    late.advance(60)
    for what, by_s in (("lamp-lit", 3), ("dowser-open", 2)):
        assert happened(late, what)[0][0] - happened(plain, what)[0][0] == pytest.approx(by_s)


def test_lamp_out_goes_out_and_comes_back_when_it_says() -> None:
    _, said = run(60, {"kind": "lamp-out", "house": "1", "at": "20 s", "for": "6 s"})
    assert [(round(t, 1), v) for t, v in contact(said, "1.lamp")[2:]] == [(20.0, False), (26.2, True)]


def test_a_stuck_dowser_moves_when_it_comes_free() -> None:
    _, said = run(60, {"kind": "dowser-stuck", "house": "1", "at": "1 s", "for": "30 s"})
    assert contact(said, "1.dowser")[1:] == [(pytest.approx(31, abs=0.002), True)]


def test_stop_all_and_restart_all_do_that() -> None:
    room = room_with({"kind": "stop-all", "at": "20 s"}, {"kind": "restart-all", "at": "40 s"})
    room.advance(50)
    assert all(m.fps == 0 and not m.run for m in room.truth(35).machines)
    assert all(m.fps == FPS for m in room.truth().machines)


def test_a_show_with_parted_film_is_not_started_again() -> None:
    room = room_with(
        {"kind": "splice-parts", "link": "1>2", "at": "20 s"}, {"kind": "stop-all", "at": "21 s"},
        {"kind": "restart-all", "at": "40 s"},
    )  # fmt: skip
    room.advance(50)
    assert not any(m.run for m in room.truth().machines)
    assert happened(room, "restart-refused")


def test_every_kind_is_listed_in_words_with_its_keys_and_has_a_test_here() -> None:
    listed = {k.kind: k for k in fault_kinds()}
    assert set(listed) == set(KINDS)
    for kind in listed.values():
        assert kind.text.endswith(".")
        assert all(k.text for k in kind.keys)
    here = Path(__file__)
    source = (
        here.with_name("test_sim_faults_line.py").read_text() + here.read_text().split("def test_every")[0]
    )
    untried = [k for k in KINDS if f'"{k}"' not in source]
    assert not untried


def test_a_fault_thrown_in_by_hand_happens_now_and_one_that_makes_no_sense_changes_nothing() -> None:
    booth = booth_with()
    booth.advance(20.0)
    for wrong in ({"kind": "zap"}, {"kind": "trip"}, {"kind": "creep", "house": "1", "by": 3}):
        with pytest.raises(ActionError):
            parse_fault(wrong)
    with pytest.raises(ActionError, match="this show has: 1, 2, 3"):
        booth.fault(parse_fault({"kind": "trip", "house": "9"}))
    assert all(m.run for m in booth.room.truth().machines)
    booth.fault(parse_fault({"kind": "trip", "house": "2"}))
    assert not booth.room.truth().machines[1].run
    assert contact(booth.advance(21.0), "2.run")[-1][0] == pytest.approx(20, abs=0.002)
