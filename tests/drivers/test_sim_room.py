"""The room keeps the physics: closed forms, film conserved, limits that hold, a run-out in order."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sim_specs import FIRST_FR, FPS, PATH_FR, booth_spec, happened, room_with

from drivers.simulator.machines import LoopSpec, SimSpec
from drivers.simulator.room import Room


def test_a_machine_at_speed_has_run_fps_times_t_less_its_start_and_half_its_ramp() -> None:
    """design.md, "The plan's arithmetic"; contract.md for first_picture_s."""
    room = room_with()
    room.advance(30.0)
    for m in room.truth(30.0).machines:
        assert m.frames == pytest.approx(FPS * (30.0 - 0.6))
        assert m.fps == FPS
    assert room.truth(0.6).machines[0].frames == pytest.approx(FPS * 0.6**2 / (2 * 1.2))
    assert room.truth().machines[2].frame == pytest.approx(FPS * 29.4 - FIRST_FR - 2 * PATH_FR)


def test_a_house_that_starts_late_by_d_drifts_by_fps_times_d() -> None:
    room = room_with({"kind": "start-late", "house": "2", "by": "1.35 s"})
    room.advance(20.0)
    assert room.truth().loops[0].drift_fr == pytest.approx(FPS * 1.35)
    assert room.truth().loops[1].drift_fr == pytest.approx(-FPS * 1.35)


def test_the_time_at_which_a_limit_is_crossed_is_exact() -> None:
    """0.1 % of 24 fps uses 48 frames in 33:20 (reference.md, [D]); half of it, 24 frames, in 16:40."""
    room = room_with(
        {"kind": "creep", "house": "1", "by": "+0.1 %", "at": "10 s"}, spec=booth_spec(minutes=60)
    )
    room.advance(2100.0)
    assert room.crossings("1>2", 24.0) == [(pytest.approx(10 + 1000.0), 1)]
    assert room.crossings("1>2", 48.0) == [(pytest.approx(10 + 2000.0), 1)]
    assert [e[:2] for e in happened(room, "spilled")] == [(pytest.approx(2010.0), "1>2")]


def test_after_the_cut_a_machine_coasts_half_its_coast() -> None:
    room = room_with({"kind": "trip", "house": "3", "at": "20 s"})
    room.advance(21.9)
    assert room.truth().machines[2].frames == pytest.approx(FPS * (20 - 0.6) + FPS * 0.4 / 2)
    assert room.truth().machines[2].fps == 0.0
    assert not room.truth(20.0).machines[2].run
    assert room.truth().loops[1].drift_fr == pytest.approx(FPS * (1.9 - 0.2))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6), st.floats(1, 100))
def test_film_between_two_gates_is_conserved(seed: int, t_s: float) -> None:
    """frame(k) − frame(k+1) = path + drift: design.md, "The plan's arithmetic"."""
    base = booth_spec(4, motor="induction", speed_tolerance=0.005, start_scatter_s=0.3)
    loops = tuple(msgspec.structs.replace(p, path_tolerance=0.01) for p in base.loops)
    room = Room(msgspec.structs.replace(base, loops=loops), seed, history=True)
    room.advance(t_s)
    truth = room.truth()
    for k, p in enumerate(room.loops):
        gap = truth.machines[k].frame - truth.machines[k + 1].frame
        assert gap == pytest.approx(p.path_fr + truth.loops[k].drift_fr)


def test_synchronous_machines_of_one_supply_do_not_drift_apart_and_crystals_ignore_the_mains() -> None:
    spec = booth_spec(3, minutes=30, motor="synchronous")
    crystal = msgspec.structs.replace(spec.machines[2], motor="crystal")
    spec = msgspec.structs.replace(spec, machines=(*spec.machines[:2], crystal))
    room = room_with({"kind": "mains", "by": "-0.1 %", "at": "60 s", "for": "5 min"}, spec=spec)
    room.advance(900.0)
    drift = room.truth().loops
    assert abs(drift[0].drift_fr) < 1e-6
    wander = room.truth(60.0).loops[1].drift_fr
    assert room.truth(360.0).loops[1].drift_fr - wander == pytest.approx(-0.001 * FPS * 300, abs=3.0)


def test_each_kind_of_motor_keeps_within_what_it_is() -> None:
    tolerance = 0.005
    offs = []
    for seed in range(60):
        room = Room(booth_spec(1, motor="induction", speed_tolerance=tolerance), seed)
        room.advance(30.0)
        offs.append(room.truth().machines[0].fps / FPS - 1)
    sigma = (sum(o * o for o in offs) / len(offs)) ** 0.5
    assert 0.7 * tolerance < sigma < 1.4 * tolerance
    assert len(set(offs)) == len(offs)


def pulled_tight(then: str) -> Room:
    return room_with(
        {"kind": "trip", "house": "1", "at": "20 s"}, {"kind": "when-tight", "link": "1>2", "then": then}
    )


def test_film_that_goes_tight_stalls_the_machine_that_pulls() -> None:
    """A dead stop uses 2 s of slack in 2 s and half the coast more: 48 frames at 24 fps (reference.md, [D])."""
    room = pulled_tight("stalls")
    room.advance(30.0)
    assert happened(room, "tight")[0][0] == pytest.approx(20 + 2.0 + 0.2)
    assert happened(room, "stop")[1] == (pytest.approx(22.2), "2", "stalled")
    assert room.truth().loops[0].drift_fr == pytest.approx(-48, abs=1.0)


def test_film_that_goes_tight_may_part_and_then_the_houses_behind_it_run_out_of_film() -> None:
    room = pulled_tight("parts")
    room.advance(80.0)
    assert happened(room, "parted")[0][:2] == (pytest.approx(22.2), "1>2")
    assert room.truth().loops[0].parted
    past = happened(room, "film-past")
    assert [h for _, h, _ in past] == ["2", "3"]
    assert past[1][0] - past[0][0] == pytest.approx(PATH_FR / FPS, abs=0.01), "one path later"
    assert "1" not in [h for _, h, _ in happened(room, "clear")]
    assert room.truth(21.0).machines[1].run


def test_film_that_spills_goes_on_spilling() -> None:
    room = room_with({"kind": "speed", "house": "2", "fps": "20 fps", "at": "20 s"})
    room.advance(60.0)
    assert happened(room, "spilled")[0][0] == pytest.approx(20 + 48 / 4)
    assert room.truth().loops[0].drift_fr == pytest.approx(4 * 40)


def test_a_wired_stop_takes_the_neighbour_along_until_the_link_is_released() -> None:
    spec = booth_spec()
    loops = (LoopSpec("1", "2", PATH_FR, wired=True), spec.loops[1])
    spec = msgspec.structs.replace(spec, loops=loops)
    room = room_with({"kind": "trip", "house": "1", "at": "20 s"}, spec=spec)
    room.advance(20.5)
    assert [(h, why) for _, h, why in happened(room, "stop")] == [("1", "trip"), ("2", "wired")]
    assert not happened(room, "tight")
    run_out = room_with(spec=spec)
    run_out.advance(400.0)
    assert {why for _, _, why in happened(run_out, "stop")} == {"motor-off"}


def run_out(spec: SimSpec) -> Room:
    room = room_with(spec=spec)
    while not room.cleared or room.now_s < 5:
        room.advance(room.now_s + 5)
        assert room.now_s < 900
    return room


def test_at_the_end_each_house_is_cleared_released_and_stopped_in_its_turn() -> None:
    spec = booth_spec(4)
    room = run_out(spec)
    clear, stops = happened(room, "clear"), happened(room, "stop")
    assert [h for _, h, _ in clear] == [h for _, h, _ in stops] == ["1", "2", "3", "4"]
    for (clear_s, _, _), (stop_s, _, why) in zip(clear, stops, strict=True):
        assert 2.0 <= stop_s - clear_s <= 5.0
        assert why == "motor-off"
    assert [link for _, link, _ in happened(room, "released")] == ["1>2", "2>3", "3>4"]
    assert clear[0][0] == pytest.approx(0.6 + (FIRST_FR + spec.length_fr) / FPS)
    assert not happened(room, "tight")
    assert not happened(room, "spilled")


def test_the_crew_strikes_opens_and_shuts_by_where_the_print_is() -> None:
    spec = booth_spec(2)
    room = run_out(spec)
    for k, house in enumerate(("1", "2")):
        first_s = 0.6 + (FIRST_FR + k * PATH_FR) / FPS
        due = {
            "lamp-lit": first_s - 5.0, "dowser-open": first_s - 1.0,
            "dowser-shut": first_s + spec.picture_spans[0][1] / FPS,
            "lamp-dark": first_s + spec.picture_spans[0][1] / FPS,
        }  # fmt: skip
        for what, due_s in due.items():
            at = [t for t, h, _ in happened(room, what) if h == house]
            assert len(at) == 1
            assert 0.1 < at[0] - due_s < 2.6, (what, house)


def test_after_an_incident_the_crew_stops_all_shuts_the_dowsers_and_starts_again() -> None:
    room = room_with(
        {"kind": "trip", "house": "2", "at": "40 s"}, crew_stops_after_s=1.5, crew_restarts_after_s=30.0
    )
    room.advance(41.4)
    assert [h for _, h, _ in happened(room, "stop")] == ["2"]
    room.advance(60.0)
    assert [h for _, h, why in happened(room, "stop") if why == "crew"] == ["3", "1"], "downstream first"
    assert all(m.fps == 0 for m in room.truth().machines)
    assert {h for t, h, _ in happened(room, "dowser-shut")} == {"1", "2"}, "house 3 was still shut"
    room.advance(100.0)
    assert all(m.fps == FPS for m in room.truth().machines)
    assert "1" in {h for t, h, _ in happened(room, "dowser-open") if t > 60}


def test_nothing_stops_the_others_where_the_scenario_has_no_such_crew() -> None:
    room = room_with({"kind": "trip", "house": "3", "at": "40 s"})
    room.advance(60.0)
    assert [m.run for m in room.truth().machines] == [True, True, False]


def test_a_jog_while_threading_does_not_keep_a_wired_neighbour_from_starting() -> None:
    spec = booth_spec()
    loops = (LoopSpec("1", "2", PATH_FR, wired=True), spec.loops[1])
    room = room_with(
        {"kind": "jog", "house": "2", "at": "-20 s"}, spec=msgspec.structs.replace(spec, loops=loops)
    )
    room.advance(10.0)
    assert all(m.run for m in room.truth().machines)


def test_film_that_has_parted_twice_ends_in_each_house_at_the_first_of_its_tears() -> None:
    room = room_with(
        {"kind": "splice-parts", "link": "2>3", "at": "20 s"},
        {"kind": "splice-parts", "link": "1>2", "at": "20.5 s"},
    )
    room.advance(70.0)
    past = {h: t for t, h, _ in happened(room, "film-past")}
    last_fr = PATH_FR + room.spec.machines[2].film_sensor_fr
    assert past["3"] < 20 + last_fr / FPS, "what lay between gate 2 and gate 3"
    assert 20.5 < past["2"] + 48 / FPS < 20.5 + PATH_FR / FPS + 0.1
    assert len(past) == len(happened(room, "film-past"))
