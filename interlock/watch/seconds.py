"""The once-a-second lines of the desk as compact rows: what the record keeps of them.

The lines themselves can be recomputed by folding the record again, but a show of four hours takes
a quarter of a minute for that. So the record keeps what is *drawn* of them, beside the lines that are
events: where the print was and what each link's drift was, second by second, as the desk then said it.
Rounded to a ten-thousandth of a frame (the exact figures come back by replay); unknown is null.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from interlock.watch.state import HouseLine, Line, LinkLine

DIGITS = 4
"""Places kept of frames, and of frames a second."""

HouseRow = tuple[float | None, float | None, float | None, float | None]
"""``frame``, ``expected_frame``, ``sigma_fr``, ``speed_fps``."""
LinkRow = tuple[float | None, float | None, float | None]
"""``drift_fr``, ``sigma_fr``, ``rate_fps``."""


class Second(msgspec.Struct, frozen=True, array_like=True):
    """One second of the show: houses and links in film order. ``at``, ``show_s`` as on every line."""

    at: str
    show_s: float | None
    houses: tuple[HouseRow, ...]
    links: tuple[LinkRow, ...]


class _Note(msgspec.Struct):
    seconds: list[Second]


_decode = msgspec.json.Decoder(_Note).decode
_encode = msgspec.json.Encoder().encode


def _kept(value: float | None) -> float | None:
    return None if value is None else round(value, DIGITS)


def seconds_of(lines: Iterable[Line]) -> list[Second]:
    """The seconds that the periodic lines among ``lines`` make, in order."""
    seconds: list[Second] = []
    at, show_s = "", None
    houses: list[HouseRow] = []
    links: list[LinkRow] = []
    for line in lines:
        if not isinstance(line, HouseLine | LinkLine) or not line.periodic:
            continue
        if line.at != at:
            if houses:
                seconds.append(Second(at, show_s, tuple(houses), tuple(links)))
            at, show_s, houses, links = line.at, line.show_s, [], []
        if isinstance(line, HouseLine):
            houses.append(
                (_kept(line.frame), _kept(line.expected_frame), _kept(line.sigma_fr), _kept(line.speed_fps))
            )
        else:
            links.append((_kept(line.drift_fr), _kept(line.sigma_fr), _kept(line.rate_fps)))
    if houses:
        seconds.append(Second(at, show_s, tuple(houses), tuple(links)))
    return seconds


def pack_seconds(lines: Iterable[Line]) -> str:
    """JSON ``{"seconds": […]}`` of the periodic lines among ``lines``; the empty text where there are none. Never fails."""
    try:
        seconds = seconds_of(lines)
        return _encode(_Note(seconds)).decode() if seconds else ""
    except (TypeError, ValueError, OverflowError):
        return ""  # what cannot be drawn is no reason to lose the readings that stand beside it


def unpack_seconds(note: str | bytes) -> list[Second]:
    """What :func:`pack_seconds` wrote; ``msgspec.DecodeError`` if it did not."""
    return _decode(note).seconds if note else []
