"""Quantities in a scenario: a number and its unit in one string, as in a show file."""

from __future__ import annotations

import re
from typing import Annotated, TypeAlias

from pydantic import BeforeValidator

from interlock.text import clean

_QUANTITY = re.compile(r"([+-]?[0-9]{1,9}(?:\.[0-9]{1,9})?)\s*([A-Za-z%]+)")
_CLOCK = re.compile(r"([+-]?)([0-9]{1,2}):([0-5][0-9]):([0-5][0-9](?:\.[0-9]{1,9})?)")
_TIMES = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0}
_A_TIME = 'expected a time with its unit, as in "1.4 s", "10 min" or "00:12:30"'
_A_SHARE = 'expected a share with its unit, as in "+0.15 %"'
_A_SPEED = 'expected a speed with its unit, as in "22 fps"'
_FRAMES = 'expected frames with their unit, as in "-12 fr"'
MOST_S = 100 * 3600.0


def found(value: object) -> str:
    """What stands there, fit for a sentence."""
    return f'found "{clean(value, 60)}"' if isinstance(value, str) else f"found {clean(str(value), 60)}"


def _amount(value: object, units: dict[str, float], expected: str) -> float:
    m = _QUANTITY.fullmatch(value.strip()) if isinstance(value, str) else None
    if m is None or m[2] not in units:
        raise ValueError(f"{found(value)}, {expected}")
    return float(m[1]) * units[m[2]]


def time_s(value: object) -> float:
    """Seconds, of either sign."""
    m = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
    if m is not None:
        seconds = int(m[2]) * 3600 + int(m[3]) * 60 + float(m[4])
        return -seconds if m[1] == "-" else seconds
    seconds = _amount(value, _TIMES, _A_TIME)
    if abs(seconds) > MOST_S:
        raise ValueError(f"{found(value)}, expected no more than 100 h")
    return seconds


def span_s(value: object) -> float:
    """Seconds, more than none."""
    seconds = time_s(value)
    if seconds <= 0:
        raise ValueError(f"{found(value)}, expected more than none")
    return seconds


def share(value: object) -> float:
    """A part of one, of either sign."""
    part = _amount(value, {"%": 0.01}, _A_SHARE)
    if abs(part) > 1:
        raise ValueError(f"{found(value)}, expected no more than 100 %")
    return part


def portion(value: object) -> float:
    """A part of one, more than none."""
    part = share(value)
    if part <= 0:
        raise ValueError(f"{found(value)}, expected from above 0 to 100 %")
    return part


def speed_fps(value: object) -> float:
    """Frames a second, none or more."""
    fps = _amount(value, {"fps": 1.0}, _A_SPEED)
    if not 0 <= fps <= 120:
        raise ValueError(f"{found(value)}, expected from 0 to 120 fps")
    return fps


def frames_fr(value: object) -> float:
    """Frames, of either sign."""
    return _amount(value, {"fr": 1.0}, _FRAMES)


Time: TypeAlias = Annotated[float, BeforeValidator(time_s)]
Span: TypeAlias = Annotated[float, BeforeValidator(span_s)]
Share: TypeAlias = Annotated[float, BeforeValidator(share)]
Portion: TypeAlias = Annotated[float, BeforeValidator(portion)]
Speed: TypeAlias = Annotated[float, BeforeValidator(speed_fps)]
Frames: TypeAlias = Annotated[float, BeforeValidator(frames_fr)]
