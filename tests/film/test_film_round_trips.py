"""Footage and timecode survive being written and read, and refuse what cannot be."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.film import (
    FORMATS,
    FilmFormat,
    format_time,
    format_timecode,
    frames_from_time,
    parse_timecode,
    time_from_frames,
)

FILMS = st.sampled_from(list(FORMATS.values()))


@given(FILMS, st.integers(-9_999_999, 9_999_999))
def test_footage_is_read_as_it_was_written(film: FilmFormat, frames: int) -> None:
    assert film.parse_footage(film.format_footage(frames)) == frames


@given(FILMS, st.integers(0, 99_999))
def test_a_foot_is_as_long_as_its_mark_says_within_a_frame(film: FilmFormat, foot: int) -> None:
    start = film.parse_footage(f"{foot}+00")
    assert 0 <= film.frames_from_film_ft(foot) - start < 1
    assert film.format_footage(start + film.frames_in_foot(foot)) == f"{foot + 1}+00"


@given(FILMS, st.integers(0, 99_999), st.integers(0, 99))
def test_frames_beyond_those_of_the_foot_are_refused(film: FilmFormat, foot: int, frames: int) -> None:
    text = f"{foot}+{frames:02d}"
    if frames < film.frames_in_foot(foot):
        assert film.format_footage(film.parse_footage(text)) == text
    else:
        with pytest.raises(ValueError, match=f"foot {foot} of {film.key} has"):
            film.parse_footage(text)


@pytest.mark.parametrize(
    "text", ["", "118", "118+", "+08", "118-08", "118+8.5", "1e3+02", "12+00 ft", "٣+٠١"]
)
def test_what_is_no_footage_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="feet\\+frames"):
        FORMATS["35mm-4p"].parse_footage(text)


@given(st.integers(0, 999 * 3600 * 12), st.integers(12, 60))
def test_timecode_is_read_as_it_was_written(frames: int, fps: int) -> None:
    assert parse_timecode(format_timecode(frames, fps), fps) == frames


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("01:30:15", "hh:mm:ss:ff"),
        ("01:60:15:12", "60 minutes"),
        ("01:30:60:12", "60 seconds"),
        ("01:30:15:24", "24 frames"),
    ],
)
def test_what_is_no_timecode_is_refused(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        parse_timecode(text, 24)


def test_there_is_no_timecode_before_zero() -> None:
    with pytest.raises(ValueError, match="from zero"):
        format_timecode(-1, 24)


@given(st.integers(0, 10**7), st.fractions(12, 60))
def test_frames_and_time_are_exactly_each_others_inverse(frames: int, fps: Fraction) -> None:
    assert frames_from_time(time_from_frames(frames, fps), fps) == frames


@given(FILMS, st.floats(0, 1e5))
def test_tape_feet_and_frames_are_each_others_inverse(film: FilmFormat, length_ft: float) -> None:
    assert film.tape_ft_from_frames(film.frames_from_tape_ft(length_ft)) == pytest.approx(length_ft)


@pytest.mark.parametrize(
    ("time_s", "decimals", "text"),
    [
        (0, 0, "0:00:00"),
        (59.96, 1, "0:01:00.0"),
        (-12.4, 1, "-0:00:12.4"),
        (-0.04, 1, "0:00:00.0"),
        (6573, 0, "1:49:33"),
        (360000, 0, "100:00:00"),
    ],
)
def test_times_are_written_as_a_person_reads_them(time_s: float, decimals: int, text: str) -> None:
    assert format_time(time_s, decimals) == text
