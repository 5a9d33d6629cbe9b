"""``longlace records``."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from interlock.journal import Listed, list_records, records_home


def command() -> None:
    """List the records kept, the newest first."""
    listed = list_records()
    if not listed:
        sys.stdout.write(f"No records are kept in {records_home()} yet.\n")
    for record in listed:
        sys.stdout.write(row(record) + "\n")


def row(r: Listed) -> str:
    """One record: when, how long, how it ended, of what, where."""
    when = f"{_started(r):%Y-%m-%d %H:%M}" if r.started_wall_s is not None else "?" * 16
    seconds = round(r.length_s) if r.length_s is not None else None
    length = f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}" if seconds is not None else "?"
    what = f"{r.title or '?'}{' (rehearsal)' if r.rehearsal else ''}"
    why = f" ({r.text})" if r.text else ""
    return f"{when}  {length:>8}  {r.size_bytes / 1e6:7.1f} MB  {r.condition:<10}  {what}  {r.path}{why}"


def _started(r: Listed) -> datetime:
    started = datetime.fromtimestamp(r.started_wall_s or 0.0, UTC)
    try:
        return started.astimezone(ZoneInfo(r.timezone or "UTC"))
    except (ZoneInfoNotFoundError, ValueError):
        return started
