"""The kinds of values that a show file has, each with its check and its line in the JSON Schema."""

from __future__ import annotations

import re
from datetime import datetime
from fractions import Fraction
from typing import Annotated, Any, TypeAlias

from pydantic import AfterValidator, PlainValidator, StrictStr, WithJsonSchema

from interlock.showfile import quantities as q
from interlock.text import clean

NAME_LIMIT = 80

_N = r"[+-]?[0-9]+(\.[0-9]+)?"
_TIME_PATTERN = rf"{_N} *(ms|s|min|h)|[0-9]+:[0-9]{{2}}:[0-9]{{2}}(\.[0-9]+)?"
_FILM_PATTERN = rf"{_N} *(ft|m|fr)|-?[0-9]+\+[0-9]{{1,2}}"


def _schema(pattern: str, example: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "pattern": f"^({pattern})$", "examples": [example]})


def _name(text: str) -> str:
    return _words(text)[:NAME_LIMIT]


def _words(text: str) -> str:
    cleaned = clean(text)
    if not cleaned:
        raise ValueError(f"found {q.found(text)}, expected something that can be read")
    return cleaned


def _house_id(text: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,8}", text):
        raise ValueError(f"found {q.found(text)}, expected 1 to 8 of letters, digits, - and _")
    return text


def _input_number(text: str) -> str:
    if not re.fullmatch(r"0|[1-9][0-9]{0,2}", text):
        raise ValueError(f"found {q.found(text)}, expected the number of an input, from 0 to 999")
    return text


def _date_time(value: object) -> datetime:
    if not isinstance(value, datetime):
        hint = " (without quotes)" if isinstance(value, str) else ""
        raise ValueError(f"found {q.found(value)}, expected a date and time as in 2026-12-05T19:25:00{hint}")
    return value


def _rollers(value: object) -> int | tuple[Fraction, ...]:
    if isinstance(value, list):
        if len(value) > 1000:
            raise ValueError("found more than 1000 rollers in one link")
        return tuple(q.parse_wrap(wrap) for wrap in value)
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 1000:
        raise ValueError(
            f"found {q.found(value)}, expected how many rollers, or a list of their wraps in degrees"
        )
    return value


def _frame_or_name(value: object) -> int | str:
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise ValueError(f"found {q.found(value)}, expected a part's name or a frame number of the print")
    return _name(value) if isinstance(value, str) else value


Name: TypeAlias = Annotated[StrictStr, AfterValidator(_name)]
"""Words for people, cleaned, at most 80 characters."""
Words: TypeAlias = Annotated[StrictStr, AfterValidator(_words)]
"""The same with room for a sentence."""
InputNumber: TypeAlias = Annotated[StrictStr, AfterValidator(_input_number)]
"""A key of TOML is text, even where it is a number."""
HouseId: TypeAlias = Annotated[StrictStr, AfterValidator(_house_id)]
Time: TypeAlias = Annotated[Fraction, PlainValidator(q.parse_time), _schema(_TIME_PATTERN, "2.0 s")]
"""Seconds, not negative."""
PositiveTime: TypeAlias = Annotated[
    Fraction, PlainValidator(q.parse_positive_time), _schema(_TIME_PATTERN, "0:18:52")
]
PathLength: TypeAlias = Annotated[Fraction, PlainValidator(q.parse_path), _schema(rf"{_N} *(ft|m)", "9 ft")]
"""Millimetres by tape measure, not negative."""
PositivePathLength: TypeAlias = Annotated[
    Fraction, PlainValidator(q.parse_positive_path), _schema(rf"{_N} *(ft|m)", "74 ft")
]
FilmLength: TypeAlias = Annotated[
    q.FilmLength, PlainValidator(q.parse_film_length), _schema(_FILM_PATTERN, "-3 ft")
]
"""Along the film; negative is before the gate."""
FilmLengthFromZero: TypeAlias = Annotated[
    q.FilmLength, PlainValidator(q.parse_film_length_from_zero), _schema(_FILM_PATTERN, "18+00")
]
Limit: TypeAlias = Annotated[
    q.FilmLength, PlainValidator(q.parse_limit), _schema(f"{_TIME_PATTERN}|{_FILM_PATTERN}", "2.0 s")
]
"""What a loop gives one way: time, frames or film."""
Share: TypeAlias = Annotated[Fraction, PlainValidator(q.parse_share), _schema(rf"{_N} *%", "0.05 %")]
"""A share of one."""
Angle: TypeAlias = Annotated[Fraction, PlainValidator(q.parse_angle), _schema(rf"{_N} *(deg|°)", "90 deg")]
"""Degrees."""
Fps: TypeAlias = Annotated[
    Fraction,
    PlainValidator(q.parse_fps),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "minimum": 12, "maximum": 60},
                {"type": "string", "pattern": rf"^{_N} *fps$"},
            ],
            "examples": [24, "24 fps"],
        }
    ),
]
LocalDateTime: TypeAlias = Annotated[
    datetime,
    PlainValidator(_date_time),
    WithJsonSchema(
        {"type": "string", "format": "date-time", "description": "a TOML date and time, no quotes"}
    ),
]
Rollers: TypeAlias = Annotated[
    Any,  # int | tuple[Fraction, ...]; a union would make pydantic try its own ways first
    PlainValidator(_rollers),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 0},
                {"type": "array", "items": {"anyOf": [{"type": "number"}, {"type": "string"}]}},
            ],
            "description": "how many, or a list of their wraps in degrees",
        }
    ),
]
FrameOrName: TypeAlias = Annotated[
    Any,  # int | str, likewise
    PlainValidator(_frame_or_name),
    WithJsonSchema({"anyOf": [{"type": "integer", "minimum": 0}, {"type": "string"}]}),
]
