"""Words and numbers as people in a booth say them."""

from __future__ import annotations

import math
from datetime import datetime
from fractions import Fraction
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from interlock.film import FORMATS, FilmFormat
from interlock.watch.state import HouseLine, Layout

PHASES = {
    "waiting": "waiting",
    "armed": "armed",
    "starting": "starting",
    "running": "running",
    "stopped": "STOPPED",
    "running-out": "running out",
    "ended": "ended",
}
_CUES = {
    "strike-lamp": "strike lamp",
    "open-dowser": "open dowser",
    "close-dowser": "close dowser",
    "lamp-off": "lamp off",
    "motor-off": "motor off",
}
_SHORT_CUES = {
    "strike-lamp": "strike",
    "open-dowser": "open",
    "close-dowser": "close",
    "lamp-off": "lamp off",
    "motor-off": "motor off",
}
_SHORTEST_CUES = {"lamp-off": "lamp", "motor-off": "motor"}
"""In a house whose lamp burns and whose motor runs nothing else can be meant."""


def cue_words(cue: str) -> str:
    """A cue as it is called out; a show file's own cue in its own words."""
    return _CUES.get(cue, cue)


def short_cue(cue: str) -> str:
    """A cue in one or two words where there is little room."""
    return _SHORT_CUES.get(cue, cue)


def shortest_cue(cue: str) -> str:
    """A cue in one word where there is hardly any room."""
    return _SHORTEST_CUES.get(cue, short_cue(cue))


def duration(seconds: float) -> str:
    """``0:07``, ``12:33``, ``1:02:33``; whole seconds, towards zero."""
    whole = math.floor(abs(seconds))
    if whole >= 3600:
        return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
    return f"{whole // 60}:{whole % 60:02d}"


def countdown(seconds: float) -> str:
    """Time that is left, rounded up, so that it reads 0:01 until it is over."""
    return duration(math.ceil(seconds)) if seconds > 0 else "now"


def due_words(left_s: float, *, stands: bool) -> str:
    """``in 1:57``; of a machine that stands, whose time does not run down: ``1:57 after it runs``."""
    if left_s <= 0:
        return "NOW"
    return f"{countdown(left_s)} after it runs" if stands else f"in {countdown(left_s)}"


def from_start(due_s: float, minus: str) -> str:
    """A time from the start of the motors, which may be before it."""
    return f"{minus if due_s < 0 else '+'}{duration(due_s)}"


def show_time(show_s: float | None, plan_s: float | None, minus: str) -> str:
    """Show time; before show zero the time to the planned start of the motors."""
    if show_s is not None:
        whole = math.floor(max(0.0, show_s))
        return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
    if plan_s is None:
        return "-:--:--"
    whole = math.ceil(abs(plan_s)) if plan_s < 0 else math.floor(plan_s)
    sign = minus if plan_s < 0 else "+"
    if whole >= 86_400:
        return f"{sign}{whole // 86_400} d {whole // 3600 % 24}:{whole // 60 % 60:02d} h"
    return f"{sign}{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def seconds_between(earlier: str | None, later: str) -> float | None:
    """Seconds from one RFC 3339 time to another; None where one is missing or is none."""
    if earlier is None:
        return None
    try:
        return (datetime.fromisoformat(later) - datetime.fromisoformat(earlier)).total_seconds()
    except (ValueError, TypeError):
        return None


@lru_cache(maxsize=8)
def _zone(name: str) -> ZoneInfo | None:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def _local(at: str, timezone: str) -> datetime | None:
    zone = _zone(timezone)
    try:
        when = datetime.fromisoformat(at)
        return None if zone is None or when.tzinfo is None else when.astimezone(zone)
    except (ValueError, OverflowError):
        return None


@lru_cache(maxsize=512)
def clock_of(at: str, timezone: str) -> str:
    """The time of day in an RFC 3339 time, to the second, as the house's clocks show it; where they are not known, as it came."""
    when = _local(at, timezone)
    if when is not None:
        return when.strftime("%H:%M:%S")
    return at[11:19] if len(at) >= 19 else at


def day_of(at: str, timezone: str) -> str:
    """The day of an RFC 3339 time in the time zone of the house."""
    when = _local(at, timezone)
    return at[:10] if when is None else f"{when:%Y-%m-%d}"


@lru_cache(maxsize=64)
def _film(name: str, frames_per_ft: float) -> FilmFormat:
    for film in FORMATS.values():
        if film.name == name:
            return film
    return FilmFormat("other", name, Fraction(frames_per_ft).limit_denominator(60) or Fraction(16), 19.0)


def footage(layout: Layout, frames: float) -> str:
    """Film feet + frames, ``118+08``."""
    return _film(layout.film, layout.frames_per_ft).format_footage(math.floor(frames))


def part_at(layout: Layout, frame: float) -> int | None:
    """Index of the part whose frame this is; None before the first picture frame and after the tail."""
    for n, part in enumerate(layout.parts):
        if part.start_fr <= frame < part.start_fr + part.frames:
            return n
    return None


def to_first_picture_s(layout: Layout, house: HouseLine) -> float | None:
    """Seconds until the first picture frame is in this gate at the film's speed; None if past, or not known."""
    if house.frame is None or house.frame >= 0:
        return None
    return -house.frame / layout.fps


def deviation_s(layout: Layout, house: HouseLine) -> float | None:
    """Seconds by which the print is ahead (+) or behind (−) the plan in this gate; None where not known."""
    if house.frame is None or house.expected_frame is None:
        return None
    return (house.frame - house.expected_frame) / layout.fps


def early_late(deviation: float | None, g_unknown: str = "?") -> str:
    """A deviation from the plan in words that need no sign."""
    if deviation is None:
        return g_unknown
    if abs(deviation) < 0.05:
        return "on plan"
    return f"{min(abs(deviation), 9999):.1f} s {'early' if deviation > 0 else 'late'}"
