"""Where records live, what they are called, and which there are. Nothing is ever deleted here."""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Literal, TypeAlias
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec
import platformdirs

from interlock.errors import RecordAltered, RecordError
from interlock.journal.reader import Record
from interlock.text import clean

SUFFIX = ".record"

Condition: TypeAlias = Literal["ended", "not ended", "altered", "unreadable"]


class Listed(msgspec.Struct, frozen=True):
    """One record, as ``longlace records`` lists it.

    ``condition``: "not ended" is cut off, or still being written (whether a desk runs is not known here); "altered" is
    only what a look at its first and last batch shows: ``Record.verify`` looks at all of it. ``length_s``: seconds
    of show between its first and last input. What is not known of an unreadable one is None; ``text`` says why.
    """

    path: Path
    condition: Condition
    size_bytes: int
    title: str | None = None
    started_wall_s: float | None = None
    timezone: str | None = None
    length_s: float | None = None
    rehearsal: bool = False
    text: str = ""


def records_home() -> Path:
    """The folder for records of this user; it need not exist yet."""
    return platformdirs.user_data_path("longlace", appauthor=False) / "records"


def new_path(title: str, started_wall_s: float, timezone: str, home: Path | None = None) -> Path:
    """A free name for a record, made from the show's title and its local start time."""
    try:
        zone: ZoneInfo | None = ZoneInfo(timezone)
    except (ZoneInfoNotFoundError, ValueError):
        zone = None
    when = datetime.fromtimestamp(started_wall_s, zone or UTC)
    # 40 characters are at most 160 bytes: file names end at 255.
    name = re.sub(r"[\W_]+", "-", clean(title, 40).casefold()).strip("-") or "show"
    stem = f"{name}-{when:%Y-%m-%d-%H%M%S}"
    folder = home if home is not None else records_home()
    for n in count(1):
        path = folder / f"{stem}{f'-{n}' if n > 1 else ''}{SUFFIX}"
        if not os.path.lexists(path):
            return path
    raise AssertionError  # count() does not end


def list_records(home: Path | None = None) -> list[Listed]:
    """The records in ``home``, newest first; those that cannot be read last. ``RecordError`` if the folder cannot."""
    folder = home if home is not None else records_home()
    try:
        paths = [p for p in folder.iterdir() if p.suffix == SUFFIX and p.is_file()]
    except FileNotFoundError:
        return []
    except OSError as error:
        raise RecordError(f"{folder}: cannot be read: {error.strerror}") from error
    listed = [_look(path) for path in sorted(paths)]
    return sorted(listed, key=lambda r: -(r.started_wall_s or float("-inf")))


def _look(path: Path) -> Listed:
    size = sum(p.stat().st_size for p in (path, Path(f"{path}-wal")) if p.exists())
    try:
        with Record.open(path) as record:
            meta = record.meta
            condition: Condition = "ended" if record.ended else "not ended"
            text = "" if record.ends_fit() else "its first or last batch is not as it was written"
            try:
                length_s = record.length_s()
            except RecordAltered as error:
                length_s, text = None, str(error)
            return Listed(
                path=path,
                condition="altered" if text else condition,
                size_bytes=size,
                title=clean(meta.title),
                started_wall_s=meta.started_wall_s,
                timezone=clean(meta.timezone),
                length_s=length_s,
                rehearsal=meta.rehearsal,
                text=clean(text),
            )
    except RecordError as error:
        worst: Condition = "altered" if isinstance(error, RecordAltered) else "unreadable"
        return Listed(path=path, condition=worst, size_bytes=size, text=clean(str(error)))
