"""The once-a-second lines of the desk as compact rows: what the record keeps of them.

The lines themselves can be recomputed by folding the record again, but a show of four hours takes
a quarter of a minute for that. So the record keeps what is *drawn* of them, beside the lines that are
events: where the print was and what each link's drift was, second by second, as the desk then said it.
To a hundredth of a frame (the exact figures come back by replay); unknown is null.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from interlock.watch.state import HouseLine, Line, LinkLine

FRAME, RATE, SPEED = 100, 10_000, 1_000
"""Kept in whole hundredths of a frame, ten-thousandths of a frame a second, thousandths of a frame a second."""

HouseRow = tuple[float | None, float | None, float | None]
"""``frame``, ``sigma_fr``, ``speed_fps``."""
LinkRow = tuple[float | None, float | None, float | None]
"""``drift_fr``, ``sigma_fr``, ``rate_fps``."""
_HOUSE, _LINK = (FRAME, FRAME, SPEED), (FRAME, FRAME, RATE)


class Second(msgspec.Struct, frozen=True):
    """One second of the show: houses and links in film order. ``at``, ``show_s`` as on every line."""

    at: str
    show_s: float | None
    houses: tuple[HouseRow, ...]
    links: tuple[LinkRow, ...]


class _Row(msgspec.Struct, array_like=True):
    """A second as it stands in the note: whole numbers, one house (link) after the other."""

    at: str
    show_s: float | None
    houses: list[int | None]
    links: list[int | None]


class _Note(msgspec.Struct):
    drawn: list[_Row] = []


_decode = msgspec.json.Decoder(_Note).decode
_encode = msgspec.json.Encoder().encode


def _whole(value: float | None, unit: int) -> int | None:
    """Beyond all sense (or not a number) is not known."""
    return round(value * unit) if value is not None and abs(value) < 1e12 else None


def _flat(
    rows: Iterable[tuple[float | None, float | None, float | None]], units: tuple[int, int, int]
) -> list[int | None]:
    return [_whole(v, unit) for row in rows for v, unit in zip(row, units, strict=True)]


def _rows(flat: list[int | None], units: tuple[int, int, int]) -> tuple[HouseRow, ...]:
    # A column at a time: four hours of sixteen houses are 1.4 million figures, and a report is waited for.
    a, b, c = ([None if v is None else v / unit for v in flat[i::3]] for i, unit in enumerate(units))
    return tuple(zip(a, b, c, strict=False))


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
            houses.append((line.frame, line.sigma_fr, line.speed_fps))
        else:
            links.append((line.drift_fr, line.sigma_fr, line.rate_fps))
    if houses:
        seconds.append(Second(at, show_s, tuple(houses), tuple(links)))
    return seconds


def pack_seconds(lines: Iterable[Line]) -> str:
    """JSON ``{"drawn": […]}`` of the periodic lines among ``lines``; the empty text where there are none. Never fails."""
    try:
        rows = [
            _Row(
                s.at,
                None if s.show_s is None else round(s.show_s, 3),
                _flat(s.houses, _HOUSE),
                _flat(s.links, _LINK),
            )
            for s in seconds_of(lines)
        ]
        return _encode(_Note(rows)).decode() if rows else ""
    except (TypeError, ValueError, OverflowError):
        return ""  # what cannot be drawn is no reason to lose the readings that stand beside it


def unpack_seconds(note: str | bytes) -> list[Second]:
    """What :func:`pack_seconds` wrote, as near as it was kept; ``msgspec.DecodeError`` if it did not."""
    if not note:
        return []
    return [
        Second(r.at, r.show_s, _rows(r.houses, _HOUSE), _rows(r.links, _LINK)) for r in _decode(note).drawn
    ]
