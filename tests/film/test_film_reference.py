"""Film arithmetic against values from outside the project; each names its source as reference.md does."""

from __future__ import annotations

from fractions import Fraction

import pytest
from timecode import Timecode

from interlock.film import (
    FORMATS,
    format_time,
    format_timecode,
    frames_from_time,
    parse_timecode,
    time_from_frames,
)

F35 = FORMATS["35mm-4p"]


@pytest.mark.parametrize(
    ("key", "frames_per_ft"),
    [
        ("35mm-4p", Fraction(16)),  # [P] motion-picture footage tables
        ("16mm", Fraction(40)),  # same
        ("65mm-5p", Fraction(128, 10)),  # same
        ("super8", Fraction(72)),  # same
        ("35mm-3p", Fraction(64, 3)),  # [P], [D]
        ("35mm-2p", Fraction(32)),  # [P], [D]
    ],
)
def test_a_film_foot_has_the_frames_of_the_footage_tables(key: str, frames_per_ft: Fraction) -> None:
    assert FORMATS[key].frames_from_film_ft(1) == frames_per_ft


@pytest.mark.parametrize(
    ("key", "pitch_mm"),
    [
        ("35mm-4p", 19.00),  # [P] frame-pitch tables; 4 × 4.750 mm, SMPTE 102 and ST 119
        ("16mm", 7.62),  # [P] 7.620 mm long pitch
        ("65mm-5p", 23.75),  # [P] 5 × 4.750 mm
    ],
)
def test_frames_lie_as_far_apart_as_the_pitch_tables_say(key: str, pitch_mm: float) -> None:
    assert FORMATS[key].metres_from_frames(1000) == pytest.approx(pitch_mm, abs=1e-12)


def test_super_8_lies_within_the_tolerance_of_its_standard() -> None:
    """[P] SMPTE 149: 4.234 ± 0.010 mm."""
    assert FORMATS["super8"].metres_from_frames(1000) == pytest.approx(4.234, abs=0.010)


@pytest.mark.parametrize(
    ("key", "ft_per_min"),
    [
        ("35mm-4p", Fraction(90)),  # [P]
        ("16mm", Fraction(36)),  # [P]
        ("65mm-5p", Fraction(1125, 10)),  # [P]
    ],
)
def test_at_24_fps_a_minute_is_as_many_film_feet_as_the_tables_say(key: str, ft_per_min: Fraction) -> None:
    assert FORMATS[key].film_ft_from_frames(24 * 60) == ft_per_min


def test_35_mm_at_24_fps_runs_18_inches_a_second_and_27_36_metres_a_minute() -> None:
    """[P] 18 in/s; 27.36 m/min by true pitch."""
    assert F35.film_ft_from_frames(24) * 12 == 18
    assert F35.metres_from_frames(24 * 60) == pytest.approx(27.36, abs=1e-9)


@pytest.mark.parametrize(
    ("key", "film_ft", "fps", "time"),
    [
        ("35mm-4p", 1000, 24, "0:11:06.667"),  # [D] and so all of these
        ("35mm-4p", 1000, 18, "0:14:48.889"),
        ("35mm-4p", 1000, 25, "0:10:40.000"),
        ("35mm-4p", 1000, 30, "0:08:53.333"),
        ("35mm-4p", 2000, 24, "0:22:13.333"),
        ("35mm-4p", 6000, 24, "1:06:40.000"),
        ("35mm-4p", 18000, 24, "3:20:00.000"),
        ("16mm", 400, 24, "0:11:06.667"),
        ("super8", 50, 18, "0:03:20.000"),
        ("65mm-5p", 1000, 24, "0:08:53.333"),
    ],
)
def test_a_roll_lasts_as_long_as_it_lasts(key: str, film_ft: int, fps: int, time: str) -> None:
    frames = FORMATS[key].frames_from_film_ft(film_ft)
    assert format_time(float(time_from_frames(frames, fps)), 3) == time


def test_a_tape_foot_has_more_frames_than_a_film_foot() -> None:
    """[D] 304.8 mm / 19.00 mm: 16.0421 frames; over 1,800 ft 75.8 frames or 3.16 s more than at 16."""
    assert F35.frames_from_tape_ft(1) == pytest.approx(16.0421, abs=5e-5)
    more_fr = F35.frames_from_tape_ft(1800) - float(F35.frames_from_film_ft(1800))
    assert more_fr == pytest.approx(75.8, abs=0.05)
    assert more_fr / 24 == pytest.approx(3.16, abs=0.005)


def test_picture_start_is_twelve_feet_before_the_first_picture() -> None:
    """[P] "16mm Film Cutting", SMPTE leader tables: 192 fr = 12+00 = 8 s."""
    assert F35.parse_footage("12+00") == 192
    assert time_from_frames(192, 24) == 8


def test_the_two_pop_stands_48_frames_before_the_picture() -> None:
    """[P] 48 frames before picture, 144 after picture start."""
    assert F35.parse_footage("12+00") - 48 == 144
    assert F35.format_footage(144) == "9+00"


def test_feet_and_frames_add_as_editors_add_them() -> None:
    """[P] editors' conversion worked examples."""
    total = F35.parse_footage("39+14") + F35.parse_footage("1769+07")
    assert F35.format_footage(total) == "1809+05"
    assert F35.format_footage(F35.parse_footage("1815+13") + 1) == "1815+14"


def test_timecode_feet_and_frames_agree_with_a_worked_example_and_a_second_opinion() -> None:
    """[P] timecode converter's worked example: 01:30:15:12 at 24 fps = 129,972 fr = 8123+04."""
    assert parse_timecode("01:30:15:12", 24) == 129_972
    assert format_timecode(129_972, 24) == "01:30:15:12"
    assert F35.format_footage(129_972) == "8123+04"
    # The package counts the first frame as 1.
    assert Timecode("24", "01:30:15:12").frames - 1 == 129_972


@pytest.mark.parametrize("fps", [24, 25, 30, 48, 60])
@pytest.mark.parametrize("frames", [0, 1, 23, 24, 1439, 86_399, 129_972, 345_678])
def test_timecode_is_what_the_timecode_package_says(fps: int, frames: int) -> None:
    """[P] `timecode` on PyPI as a second opinion."""
    assert format_timecode(frames, fps) == str(
        Timecode(str(fps), frames=frames + 1, force_non_drop_frame=True)
    )


def test_three_perforations_count_21_21_22() -> None:
    """[P], [D] 64/3 frames to the foot, counted 21-21-22."""
    film = FORMATS["35mm-3p"]
    assert [film.frames_in_foot(foot) for foot in range(6)] == [21, 21, 22, 21, 21, 22]
    assert film.format_footage(64) == "3+00"
    assert film.parse_footage("2+21") == 63


def test_five_perforations_count_64_frames_in_five_feet() -> None:
    """[D] 12.8 frames to the foot."""
    film = FORMATS["65mm-5p"]
    assert [film.frames_in_foot(foot) for foot in range(5)] == [12, 13, 13, 13, 13]
    assert film.format_footage(64) == "5+00"


def test_an_arm_that_gives_two_seconds_gives_three_feet() -> None:
    """[CP] 2 s either way: 48 frames or 3+00 on 35 mm at 24 fps; 20 minutes are 1,800 film feet."""
    assert frames_from_time(2, 24) == 48
    assert F35.format_footage(48) == "3+00"
    assert F35.film_ft_from_frames(frames_from_time(20 * 60, 24)) == 1800
