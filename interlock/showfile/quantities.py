"""Quantities as a person writes them: a number and its unit, in one string.

Each ``parse_…`` takes what the TOML file holds and returns exact numbers (``Fraction``), raising
``ValueError`` with what was found and what was expected. A length of film knows no frames until it
meets a format and a speed: that is :class:`FilmLength`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, time
from fractions import Fraction
from typing import Literal, TypeAlias

from interlock.film import FilmFormat
from interlock.text import clean

_NUMBER = re.compile(r"[+-]?[0-9]{1,12}(?:\.[0-9]{1,12})?")
_QUANTITY = re.compile(rf"({_NUMBER.pattern})\s*([A-Za-z%°]+(?:/[a-z]+)?)")
_CLOCK = re.compile(r"([+-]?)([0-9]{1,4}):([0-9]{2}):([0-9]{2}(?:\.[0-9]{1,9})?)")
_FOOTAGE = re.compile(r"-?[0-9]{1,7}\+[0-9]{1,2}")

_TIMES = {"ms": Fraction(1, 1000), "s": Fraction(1), "min": Fraction(60), "h": Fraction(3600)}
_MILLIMETRES = {"ft": Fraction("304.8"), "m": Fraction(1000)}

# Far beyond any show, and near enough that no date or file size overflows.
MOST_S = 100 * 3600
MOST_MM = 100 * 1000 * 1000
MOST_FRAMES = 20_000_000

_A_TIME = 'a time with its unit, as in "2.0 s", "10 min" or "1:49:33"'
_A_PATH = 'a length by tape measure with its unit, as in "74 ft" or "22.6 m"'
_A_FILM_LENGTH = 'a length of film with its unit, as in "118+08" (feet+frames), "74 ft" or "22.6 m"'
_A_LIMIT = 'a drift with its unit, as in "2.0 s", "48 fr", "3+00", "3 ft" or "1 m"'
_A_SHARE = 'a share with its unit, as in "0.05 %"'
_AN_ANGLE = 'an angle with its unit, as in "90 deg"'
_A_SPEED = 'a speed from 12 to 60 frames a second, as in 24 or "24 fps"'


def found(value: object) -> str:
    """What stands in the file, fit to be shown in a sentence."""
    if isinstance(value, str):
        return f'"{clean(value, 60)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        # Python refuses to write out an integer of thousands of digits.
        return str(value) if abs(value) < 1e15 or isinstance(value, float) else "a huge number"
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, list):
        return "a list" if value else "an empty list"
    return "a table" if isinstance(value, dict) else clean(repr(value), 60)


def parse_time(value: object) -> Fraction:
    """Seconds, never negative."""
    return _not_negative(value, _time(value, _A_TIME))


def parse_positive_time(value: object) -> Fraction:
    """Seconds, more than none."""
    return _positive(value, _time(value, _A_TIME))


def parse_path(value: object) -> Fraction:
    """Millimetres of true length, never negative."""
    return _not_negative(value, _path(value))


def parse_positive_path(value: object) -> Fraction:
    """Millimetres of true length, more than none."""
    return _positive(value, _path(value))


def parse_share(value: object) -> Fraction:
    """A share of one, from 0 to 1."""
    share = _amount(value, {"%": Fraction(1, 100)}, _A_SHARE)
    if not 0 <= share <= 1:
        raise ValueError(f"found {found(value)}, expected a share from 0 % to 100 %")
    return share


def parse_angle(value: object) -> Fraction:
    """Degrees, from 0 to 360."""
    degrees = _amount(value, {"deg": Fraction(1), "°": Fraction(1)}, _AN_ANGLE)
    if not 0 <= degrees <= 360:
        raise ValueError(f"found {found(value)}, expected an angle from 0 deg to 360 deg")
    return degrees


def parse_wrap(value: object) -> Fraction:
    """Degrees: as :func:`parse_angle`, or a bare number, for a list of wraps is in degrees."""
    if isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= 360:
        return Fraction(str(value))
    return parse_angle(value)


def amount_in(value: object, units: dict[str, Fraction], expected: str) -> Fraction:
    """A number with one of ``units``, each worth so much; ``expected`` says in words what that is."""
    return _amount(value, units, expected)


def parse_fps(value: object) -> Fraction:
    """Frames a second, from 12 to 60. May be a bare number: its key is its unit."""
    fps: Fraction | None = None
    if isinstance(value, int | float) and not isinstance(value, bool) and 12 <= value <= 60:
        fps = Fraction(str(value))
    elif isinstance(value, str):
        fps = _amount(value, {"fps": Fraction(1)}, _A_SPEED)
    if fps is None or not 12 <= fps <= 60:
        raise ValueError(f"found {found(value)}, expected {_A_SPEED}")
    return fps


FilmUnit: TypeAlias = Literal["footage", "ft", "m", "fr", "s"]


@dataclass(frozen=True, slots=True)
class FilmLength:
    """A length along the film as it was written: ``amount`` in ``unit``, footage in ``text``."""

    text: str
    unit: FilmUnit
    amount: Fraction = Fraction(0)

    def frames(self, film: FilmFormat, fps: Fraction) -> Fraction:
        """Frames of it: film feet count by definition, metres through the pitch, seconds through the speed.

        Raises ``ValueError`` for footage whose frames are more than the foot has, and for absurd lengths.
        """
        frames = self._frames(film, fps)
        if abs(frames) > MOST_FRAMES:
            raise ValueError(f'found "{self.text}", more film than any print has')
        return frames

    def _frames(self, film: FilmFormat, fps: Fraction) -> Fraction:
        if self.unit == "footage":
            return Fraction(film.parse_footage(self.text))
        if self.unit == "ft":
            return film.frames_from_film_ft(self.amount)
        if self.unit == "m":
            return frames_from_mm(self.amount * 1000, film)
        return self.amount * fps if self.unit == "s" else self.amount


def frames_from_mm(length_mm: Fraction, film: FilmFormat) -> Fraction:
    """Frames on ``length_mm`` millimetres of true length, exactly, by the pitch as the tables print it."""
    return length_mm / Fraction(str(film.pitch_mm))


def parse_film_length(value: object) -> FilmLength:
    """A length of film; negative ones are before the gate."""
    return _film_length(value, _A_FILM_LENGTH)


def parse_film_length_from_zero(value: object) -> FilmLength:
    """A length of film, never negative."""
    length = parse_film_length(value)
    if length.amount < 0 or length.text.startswith("-"):
        raise ValueError(f"found {found(value)}, expected a length of film that is not negative")
    return length


def parse_limit(value: object) -> FilmLength:
    """What a loop gives one way: time, frames or film, more than none."""
    if isinstance(value, str) and ((q := _QUANTITY.fullmatch(value.strip())) is not None) and q[2] in _TIMES:
        return FilmLength(value, "s", parse_positive_time(value))
    length = _film_length(value, _A_LIMIT)
    if length.unit == "footage" and (length.text.startswith("-") or not re.search("[1-9]", length.text)):
        raise ValueError(f"found {found(value)}, expected more than none")
    if length.unit != "footage":
        _positive(value, length.amount)
    return length


def _film_length(value: object, expected: str) -> FilmLength:
    if isinstance(value, str):
        text = value.strip()
        if _FOOTAGE.fullmatch(text):
            return FilmLength(text, "footage")
        if q := _QUANTITY.fullmatch(text):
            units: dict[str, FilmUnit] = {"ft": "ft", "m": "m", "fr": "fr"}
            if unit := units.get(q[2]):
                return FilmLength(text, unit, Fraction(q[1]))
    raise ValueError(_expected(value, expected))


def _time(value: object, expected: str) -> Fraction:
    if isinstance(value, str) and (c := _CLOCK.fullmatch(value.strip())):
        minutes, seconds = int(c[3]), Fraction(c[4])
        if minutes > 59 or seconds >= 60:
            raise ValueError(f"found {found(value)}: an hour has 60 minutes, a minute 60 seconds")
        time_s = (int(c[2]) * 60 + minutes) * 60 + seconds
        return _most(value, -time_s if c[1] == "-" else time_s, MOST_S, "100 hours")
    if isinstance(value, str) and re.fullmatch(r"[0-9]+:[0-9.]+", value.strip()):
        raise ValueError(f"found {found(value)}: hours or minutes? expected h:mm:ss, as in 0:20:30")
    return _most(value, _amount(value, _TIMES, expected), MOST_S, "100 hours")


def _path(value: object) -> Fraction:
    if isinstance(value, str) and _FOOTAGE.fullmatch(value.strip()):
        raise ValueError(f"found {found(value)}, which a footage counter counts; expected {_A_PATH}")
    return _most(value, _amount(value, _MILLIMETRES, _A_PATH), MOST_MM, "100 kilometres")


def _amount(value: object, units: dict[str, Fraction], expected: str) -> Fraction:
    if isinstance(value, str) and (q := _QUANTITY.fullmatch(value.strip())) and q[2] in units:
        return Fraction(q[1]) * units[q[2]]
    raise ValueError(_expected(value, expected))


def _expected(value: object, expected: str) -> str:
    bare = isinstance(value, int | float) and not isinstance(value, bool)
    if bare or (isinstance(value, str) and _NUMBER.fullmatch(value.strip())):
        return f"found {found(value)} without a unit, expected {expected}"
    if isinstance(value, str) and re.match(r"\s*[+-]?[0-9]+,[0-9]", value):
        return f"found {found(value)}, expected {expected} (a point, not a comma)"
    return f"found {found(value)}, expected {expected}"


def _most(value: object, amount: Fraction, most: int, words: str) -> Fraction:
    if amount > most:
        raise ValueError(f"found {found(value)}, expected at most {words}")
    return amount


def _not_negative(value: object, amount: Fraction) -> Fraction:
    if amount < 0:
        raise ValueError(f"found {found(value)}, expected nothing negative")
    return amount


def _positive(value: object, amount: Fraction) -> Fraction:
    if amount <= 0:
        raise ValueError(f"found {found(value)}, expected more than none")
    return amount
