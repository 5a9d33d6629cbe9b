"""When which frame is in which gate."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.plan.timeline import (
    all_cues,
    expected_frame,
    frames_run,
    house_cues,
    house_times,
    part_at,
    picture_spans,
    time_of_frame,
    time_of_frames,
)
from interlock.showfile.show import Cue, House, Link, Part, PartKind, Show

STARTS = st.floats(-100, 1000)
RAMPS = st.floats(0, 10)
SPEEDS = st.floats(12, 60)


def parts(*kinds_and_frames: tuple[PartKind, int]) -> tuple[Part, ...]:
    out: list[Part] = []
    for kind, frames in kinds_and_frames:
        out.append(Part(f"{kind} {len(out)}", kind, frames, out[-1].end_fr if out else 0))
    return tuple(out)


def a_show(*kinds_and_frames: tuple[PartKind, int], lit: bool = True) -> Show:
    return Show(
        title="Lantern Weather",
        film_key="35mm-4p",
        fps=24.0,
        motor_start_wall_s=0.0,
        timezone="UTC",
        first_picture_fr=288.0,
        parts=parts(*kinds_and_frames),
        houses=(
            House("4", "House 4", ramp_s=1.2),
            House("3", "House 3", start_delay_s=0.5, ramp_s=1.0, lit=lit),
        ),
        links=(Link("4", "3", 1200.0, tight_fr=48, spill_fr=48),),
        cues=(Cue(100, "house lights out"),),
    )


def test_a_ramp_costs_half_its_frames() -> None:
    """[D] fps·(t − s − r/2): 24 fps, ramp 1.2 s: ten seconds after the start 225.6 frames, not 240."""
    assert frames_run(10.0, 0.0, 1.2, 24.0) == pytest.approx(225.6, abs=1e-9)


def test_within_the_ramp_the_frames_run_are_a_parabola() -> None:
    """[D] fps·(t − s)²/(2r): halfway through a ramp of 1.2 s a quarter of its 14.4 frames has run."""
    assert frames_run(5.6, 5.0, 1.2, 24.0) == pytest.approx(3.6, abs=1e-9)


def test_before_its_start_a_machine_stands() -> None:
    assert frames_run(4.9, 5.0, 1.2, 24.0) == 0.0


@given(STARTS, RAMPS, SPEEDS, st.floats(0, 1e6))
def test_time_and_frames_are_each_others_inverse(
    start_s: float, ramp_s: float, fps: float, fr: float
) -> None:
    at_s = time_of_frames(fr, start_s, ramp_s, fps)
    assert frames_run(at_s, start_s, ramp_s, fps) == pytest.approx(fr, abs=1e-5)


@given(STARTS, RAMPS, SPEEDS, st.floats(0, 1e4), st.floats(0, 1e4))
def test_film_never_runs_backwards(start_s: float, ramp_s: float, fps: float, a_s: float, b_s: float) -> None:
    a_s, b_s = sorted((a_s, b_s))
    assert frames_run(start_s + a_s, start_s, ramp_s, fps) <= frames_run(start_s + b_s, start_s, ramp_s, fps)


@given(STARTS, st.floats(0.01, 10), SPEEDS)
def test_parabola_and_line_meet_at_the_end_of_the_ramp(start_s: float, ramp_s: float, fps: float) -> None:
    eps = 1e-7
    before = frames_run(start_s + ramp_s - eps, start_s, ramp_s, fps)
    after = frames_run(start_s + ramp_s + eps, start_s, ramp_s, fps)
    assert before == pytest.approx(fps * ramp_s / 2, abs=1e-3)
    assert after == pytest.approx(fps * ramp_s / 2, abs=1e-3)


def test_no_start_reaches_negative_frames() -> None:
    with pytest.raises(ValueError, match="runs no -1"):
        time_of_frames(-1, 0, 1, 24)


def test_a_house_sees_the_first_picture_when_its_machine_has_run_leader_and_path() -> None:
    """contract.md: start_delay + ramp/2 + first_picture_fr/fps; 18+00 is 288 frames, 12 s."""
    one, two = house_times(a_show(("feature", 2400), ("tail", 2400)))
    assert (one.path_fr, one.first_picture_fr) == (0.0, 288.0)
    assert one.first_picture_s == pytest.approx(0.6 + 12.0)
    assert (two.path_fr, two.first_picture_fr) == (1200.0, 1488.0)
    assert two.first_picture_s == pytest.approx(0.5 + 0.5 + 62.0)
    assert two.strike_lamp_s == pytest.approx(two.first_picture_s - 45)
    assert two.open_dowser_s == pytest.approx(two.first_picture_s - 1)
    assert two.last_picture_s == two.close_dowser_s == pytest.approx(two.first_picture_s + 100)
    assert two.tail_clear_s == pytest.approx(two.first_picture_s + 200)


@given(st.floats(2, 300))
def test_the_expected_frame_and_its_time_agree(plan_s: float) -> None:
    show = a_show(("feature", 2400))
    for k in range(2):
        assert time_of_frame(show, k, expected_frame(show, k, plan_s)) == pytest.approx(plan_s, abs=1e-9)


def test_before_the_start_what_is_threaded_is_in_the_gate() -> None:
    show = a_show(("feature", 2400))
    assert expected_frame(show, 0, -30.0) == -288.0
    assert expected_frame(show, 1, 0.4) == -1488.0


def test_the_part_in_the_gate_is_the_one_whose_frames_it_is_among() -> None:
    show = a_show(("trailer", 100), ("feature", 200))
    assert part_at(show, -0.5) is None
    assert part_at(show, 0) is show.parts[0]
    assert part_at(show, 99.9) is show.parts[0]
    assert part_at(show, 100) is show.parts[1]
    assert part_at(show, 300) is None


def test_intermission_black_and_tail_shut_the_dowser() -> None:
    show = a_show(
        ("trailer", 10), ("feature", 20), ("intermission", 30), ("feature", 40), ("black", 5), ("tail", 6)
    )
    assert picture_spans(show) == [(0, 30), (60, 100)]


KINDS = st.sampled_from(["slide", "feature", "black", "intermission", "tail"])


@given(st.lists(st.tuples(KINDS, st.integers(1, 50)), min_size=1, max_size=8), st.integers(-10, 450))
def test_a_frame_is_in_a_picture_span_exactly_if_its_part_is_picture(
    kinds: list[tuple[PartKind, int]], frame: int
) -> None:
    show = a_show(*kinds)
    part = part_at(show, frame)
    wanted = part is not None and part.kind in {"slide", "feature"}
    assert any(a <= frame < b for a, b in picture_spans(show)) == wanted


def test_a_house_has_its_cues_in_the_order_of_the_film() -> None:
    show = a_show(("feature", 1000), ("intermission", 480), ("feature", 1000), ("tail", 500))
    assert [(c.cue, c.frame) for c in house_cues(show, 0)] == [
        ("strike-lamp", -1080.0),
        ("open-dowser", -24.0),
        ("house lights out", 100.0),
        ("close-dowser", 1000.0),
        ("open-dowser", 1456.0),
        ("close-dowser", 2480.0),
        ("lamp-off", 2480.0),
        ("motor-off", 2980.0),
    ]


def test_the_dowser_of_a_short_black_is_never_opened_before_it_is_shut() -> None:
    show = a_show(("feature", 1000), ("black", 5), ("feature", 1000))
    dowser = [(c.cue, c.frame) for c in house_cues(show, 0) if "dowser" in c.cue]
    assert dowser[1:3] == [("close-dowser", 1000.0), ("open-dowser", 1000.0)]


def test_a_dark_house_has_neither_lamp_nor_dowser_cues() -> None:
    show = a_show(("feature", 1000), lit=False)
    assert [c.cue for c in house_cues(show, 1)] == ["house lights out", "motor-off"]


def test_the_cues_of_all_houses_come_in_the_order_of_time() -> None:
    cues = all_cues(a_show(("feature", 1000)))
    assert [c.plan_s for c in cues] == sorted(c.plan_s for c in cues)
    assert {c.house for c in cues} == {"4", "3"}


def test_a_strike_lead_longer_than_the_way_to_the_picture_falls_before_the_motors() -> None:
    strike = house_cues(a_show(("feature", 1000)), 0)[0]
    assert strike.cue == "strike-lamp"
    assert strike.plan_s == pytest.approx(12.6 - 45)
