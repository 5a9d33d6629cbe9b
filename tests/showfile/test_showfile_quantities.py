"""Quantities are read exactly, with their unit or not at all."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.film import FORMATS, FilmFormat
from interlock.showfile import quantities as q

F35 = FORMATS["35mm-4p"]
FILMS = st.sampled_from(list(FORMATS.values()))
DECIMALS = st.decimals(0, 3600, places=3, allow_nan=False).map(lambda d: f"{d:f}")
BLANKS = st.sampled_from(["", " ", "  "])


@given(DECIMALS, BLANKS, st.sampled_from([("ms", Fraction(1, 1000)), ("s", 1), ("min", 60), ("h", 3600)]))
def test_a_time_is_its_number_times_its_unit_exactly(
    number: str, blank: str, unit: tuple[str, Fraction]
) -> None:
    name, seconds = unit
    if Fraction(number) * seconds <= q.MOST_S:
        assert q.parse_time(f"{number}{blank}{name}") == Fraction(number) * seconds


@given(st.integers(0, 99), st.integers(0, 59), st.integers(0, 59), st.integers(0, 999))
def test_a_clock_time_is_hours_minutes_and_seconds(h: int, m: int, s: int, ms: int) -> None:
    assert q.parse_time(f"{h}:{m:02d}:{s:02d}.{ms:03d}") == h * 3600 + m * 60 + s + Fraction(ms, 1000)


@given(FILMS, st.integers(0, 200_000))
def test_footage_is_its_frames_in_every_format(film: FilmFormat, frames: int) -> None:
    assert q.parse_film_length(film.format_footage(frames)).frames(film, Fraction(24)) == frames


@given(FILMS, st.integers(1, 20_000))
def test_film_feet_count_by_definition_and_tape_feet_by_the_pitch(film: FilmFormat, feet: int) -> None:
    assert q.parse_film_length(f"{feet} ft").frames(film, Fraction(24)) == feet * film.frames_per_ft
    tape = q.frames_from_mm(q.parse_positive_path(f"{feet} ft"), film)
    assert float(tape) == pytest.approx(film.frames_from_tape_ft(feet), rel=1e-12)


@given(FILMS, st.integers(1, 5_000))
def test_a_length_in_metres_is_a_true_length_in_both(film: FilmFormat, metres: int) -> None:
    along = q.parse_film_length(f"{metres} m").frames(film, Fraction(24))
    assert along == q.frames_from_mm(q.parse_path(f"{metres} m"), film)


@given(st.fractions(12, 60, max_denominator=100), st.integers(1, 30))
def test_a_limit_in_seconds_is_as_many_frames_as_pass_in_them(fps: Fraction, seconds: int) -> None:
    assert q.parse_limit(f"{seconds} s").frames(F35, fps) == seconds * fps


def test_what_an_arm_gives_may_be_said_in_four_ways() -> None:
    """[CP] 2 s either way: 48 frames or 3+00 of film on 35 mm at 24 fps."""
    for text in ("2.0 s", "48 fr", "3+00", "3 ft"):
        assert q.parse_limit(text).frames(F35, Fraction(24)) == 48


@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (q.parse_share, "0.05 %", Fraction(5, 10_000)),
        (q.parse_share, "100%", 1),
        (q.parse_angle, "90 deg", 90),
        (q.parse_angle, "22.5°", Fraction(45, 2)),
        (q.parse_wrap, 180, 180),
        (q.parse_wrap, 22.5, Fraction(45, 2)),
        (q.parse_fps, 24, 24),
        (q.parse_fps, 23.976, Fraction(23976, 1000)),
        (q.parse_fps, "24 fps", 24),
    ],
)
def test_shares_angles_and_speeds_are_exact(parse, text: object, value: Fraction | int) -> None:
    assert parse(text) == value


PARSERS = [
    (q.parse_time, "a time with its unit"),
    (q.parse_positive_time, "a time with its unit"),
    (q.parse_path, "a length by tape measure with its unit"),
    (q.parse_positive_path, "a length by tape measure with its unit"),
    (q.parse_film_length, "a length of film with its unit"),
    (q.parse_film_length_from_zero, "a length of film with its unit"),
    (q.parse_limit, "a drift with its unit"),
    (q.parse_share, "a share with its unit"),
    (q.parse_angle, "an angle with its unit"),
]


@pytest.mark.parametrize(("parse", "expected"), PARSERS, ids=lambda p: getattr(p, "__name__", ""))
@pytest.mark.parametrize("bare", [2, 2.0, -1, 0, "2.0", " 2 "])
def test_a_bare_number_is_told_which_unit_was_expected(parse, expected: str, bare: object) -> None:
    with pytest.raises(ValueError, match=f"without a unit, expected {expected}"):
        parse(bare)


ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.integers(10**400, 10**401),
    st.floats(),
    st.text(max_size=30),
    st.from_regex(r"[+-]?[0-9]{1,15}(\.[0-9]{1,15})? ?(ft|m|s|min|fr|%|deg|fps|kg)?", fullmatch=True),
    st.from_regex(r"-?[0-9]{1,9}[+:][0-9]{1,3}(:[0-9]{2})?", fullmatch=True),
    st.dates(),
    st.times(),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=2), st.integers(), max_size=2),
)


@given(st.sampled_from([p for p, _ in PARSERS] + [q.parse_fps, q.parse_wrap]), ANYTHING)
def test_whatever_stands_there_is_read_or_refused_in_one_short_printable_line(parse, value: object) -> None:
    try:
        read = parse(value)
    except ValueError as e:
        words = str(e)
        assert words.startswith("found ")
        assert words.isprintable()
        assert len(words) < 300
    else:
        assert isinstance(read, Fraction | q.FilmLength)
