"""The cue sheet of a far booth's houses, as the desk says it to the station, and where.

::

    longlace/SITE/desk/STATION/booth/sheet    retained, once a second    Sheet    desk

Below the station's own name among the desk's topics, so that its ACL covers it; an adapter's question is one level
shorter, so no adapter's name can stand in its way.
"""

from __future__ import annotations

from typing import Annotated, Literal
from zoneinfo import ZoneInfo

import msgspec

from drivers.mqtt_words import DESK, Of, Token
from interlock.signals import finite
from interlock.text import clean

MOST_BYTES = 100_000
"""Eight houses of a hundred cues each; what is larger is not read."""

Text = Annotated[str, msgspec.Meta(max_length=200)]
Id = Annotated[str, msgspec.Meta(min_length=1, max_length=8)]


class SheetCue(msgspec.Struct, frozen=True):
    """``plan_s``: plan time. ``in_s``: seconds from the sheet's making until the desk expects it; None: not known."""

    cue: Text
    plan_s: float
    in_s: float | None
    state: Literal["coming", "due", "done", "missed"]


class SheetHouse(msgspec.Struct, frozen=True):
    """One house of the booth, its cues in their order. ``start_s``: plan time at which its motor is to turn."""

    house: Id
    name: Text
    cues: Annotated[tuple[SheetCue, ...], msgspec.Meta(max_length=1000)]
    start_s: float = 0.0


class Sheet(msgspec.Struct, frozen=True, tag_field="kind", tag="sheet"):
    """``of``: ``SITE/STATION``; ``desk``: which desk says it.

    ``wall_s``: UTC seconds of its making, by the desk's computer; ``plan_s``: plan time then. ``standing``: after a
    stop, while the plan stands too. ``watching``: False, and the watch has been ended.
    """

    of: Of
    desk: Token
    wall_s: float
    title: Text
    timezone: Text
    phase: Annotated[str, msgspec.Meta(max_length=20)]
    plan_s: float
    standing: bool
    watching: bool
    houses: Annotated[tuple[SheetHouse, ...], msgspec.Meta(max_length=64)]


_DECODER = msgspec.json.Decoder(Sheet)
_ENCODER = msgspec.json.Encoder()


def sheet_topic(site: str, station: str) -> str:
    """Where the desk says it."""
    return f"longlace/{site}/{DESK}/{station}/booth/sheet"


def encode_sheet(sheet: Sheet) -> bytes:
    """The payload."""
    return _ENCODER.encode(sheet)


def decode_sheet(payload: object, of: str) -> Sheet | None:
    """The sheet, its text cleaned; None for what is too large, is no sheet, or is of another booth."""
    if not isinstance(payload, bytes | bytearray) or len(payload) > MOST_BYTES:
        return None
    try:
        sheet = _DECODER.decode(payload)
        ZoneInfo(sheet.timezone)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError, ValueError, OSError, LookupError):
        return None
    cues = [c for h in sheet.houses for c in h.cues]
    numbers = [sheet.wall_s, sheet.plan_s, *(h.start_s for h in sheet.houses)]
    numbers += [*(c.plan_s for c in cues), *(c.in_s or 0.0 for c in cues)]
    if sheet.of != of or not all(finite(x) and abs(x) < 1e11 for x in numbers):
        return None
    return msgspec.structs.replace(
        sheet,
        title=clean(sheet.title),
        phase=clean(sheet.phase),
        houses=tuple(_cleaned(h) for h in sheet.houses),
    )


def _cleaned(h: SheetHouse) -> SheetHouse:
    cues = tuple(msgspec.structs.replace(c, cue=clean(c.cue)) for c in h.cues)
    return SheetHouse(clean(h.house), clean(h.name), cues, h.start_s)
