"""``longlace records``."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec

from interlock.clock import SystemClock
from interlock.errors import RecordError
from interlock.journal import Listed, Record, list_records, records_home
from interlock.service.place import Who, desks
from interlock.text import shown

FRESH_S = 5.0
"""A living desk writes several times in this, whatever the show does."""


class Open(msgspec.Struct, frozen=True):
    """A record with no end mark: of which show (its file's path), of a rehearsal or not, when it was last written."""

    path: Path
    show_path: str
    rehearsal: bool
    started_wall_s: float
    last_wall_s: float


def command() -> None:
    """List the records kept, the newest first."""
    listed = list_records()
    if not listed:
        sys.stdout.write(f"No records are kept in {records_home()} yet.\n")
    words = conditions(
        [x for r in listed if r.condition == "not ended" and (x := look(r.path)) is not None],
        desks(),
        SystemClock().wall_s(),
    )
    for record in listed:
        sys.stdout.write(shown(row(record, words.get(record.path, record.condition))) + "\n")


def look(path: Path) -> Open | None:
    """What there is to be known of a record with no end mark; None if it cannot be read (any more)."""
    with suppress(RecordError), Record.open(path) as record:
        meta = record.meta
        return Open(path, meta.show_path, meta.rehearsal, meta.started_wall_s, record.last_wall_s)
    return None


def conditions(unended: Sequence[Open], running: Sequence[Who], now_s: float) -> dict[Path, str]:
    """``running``: a desk holds the lock of its show and writes it. ``not ended``: written a moment ago, nobody knows by whom
    (a desk on another computer, or one that holds no lock). ``cut off``: neither."""
    found = {r.path: "not ended" if now_s - r.last_wall_s < FRESH_S else "cut off" for r in unended}
    for who in running:
        told = who.given.get("journal")
        mine = [
            r
            for r in unended
            if (r.show_path, r.rehearsal) == (who.show, who.rehearsal)
            and (told is None or r.path.resolve() == Path(told).resolve())
        ]
        if mine:
            found[max(mine, key=lambda r: r.started_wall_s).path] = "running"
    return found


def row(r: Listed, how: str) -> str:
    """One record: when, how long, how it ended, of what, where."""
    when = f"{_started(r):%Y-%m-%d %H:%M}" if r.started_wall_s is not None else "?" * 16
    seconds = round(r.length_s) if r.length_s is not None else None
    length = f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}" if seconds is not None else "?"
    what = f"{r.title or '?'}{' (rehearsal)' if r.rehearsal else ''}"
    why = f" ({r.text})" if r.text else ""
    return f"{when}  {length:>8}  {r.size_bytes / 1e6:7.1f} MB  {how:<10}  {what}  {r.path}{why}"


def _started(r: Listed) -> datetime:
    started = datetime.fromtimestamp(r.started_wall_s or 0.0, UTC)
    try:
        return started.astimezone(ZoneInfo(r.timezone or "UTC"))
    except (ZoneInfoNotFoundError, ValueError):
        return started
