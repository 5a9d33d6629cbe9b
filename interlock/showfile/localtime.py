"""A local time in its zone, and what may be wrong with it.

Twice a year a local time does not exist or exists twice: such a time is refused unless it bears its
offset, because an hour's guess is an hour's wrong start.
"""

from __future__ import annotations

import difflib
import os
import zoneinfo
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

from interlock.showfile.quantities import found

_YEARS = range(1990, 2200)
"""Years in which zones differ by whole minutes, as RFC 3339 wants, and no date overflows."""


def zone_named(name: str) -> zoneinfo.ZoneInfo:
    """The IANA zone ``name``; ``ValueError`` with the nearest one there is."""
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        near = difflib.get_close_matches(name, zoneinfo.available_timezones(), n=1)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        raise ValueError(
            f'found {found(name)}, expected an IANA time zone, as in "Europe/Lisbon"{hint}'
        ) from None


def computers_zone() -> str | None:
    """The IANA name of the zone that this computer keeps; None if it cannot be told."""
    names = [os.environ.get("TZ", "").removeprefix(":")]
    link = Path("/etc/localtime")
    if link.is_symlink():
        names.append(str(link.resolve()).partition("zoneinfo/")[2])
    listed = Path("/etc/timezone")
    if listed.is_file():
        names.append(listed.read_text(encoding="utf-8", errors="replace").strip())
    for name in filter(None, names):
        try:
            zoneinfo.ZoneInfo(name)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
            continue
        return name
    # A computer that was never told its zone keeps UTC.
    return "UTC" if os.name == "posix" and not link.exists() and not names[0] else None


def wall_seconds(local: datetime, zone: zoneinfo.ZoneInfo) -> float:
    """UTC seconds of the epoch of ``local`` in ``zone``.

    ``ValueError`` with a sentence if it does not exist there or exists twice. A time that bears its own
    offset exists once, and must agree with the zone.
    """
    shown = local.isoformat()
    if local.year not in _YEARS:
        raise ValueError(f"found {shown}, expected a year from {_YEARS.start} to {_YEARS.stop - 1}")
    if (offset := local.utcoffset()) is not None:
        kept = local.astimezone(zone).utcoffset()
        if kept != offset:
            raise ValueError(
                f"found {shown}, but {zone.key} is at {_written(kept)} then; correct one of the two"
            )
        return local.timestamp()
    early, late = local.replace(tzinfo=zone, fold=0), local.replace(tzinfo=zone, fold=1)
    if early.utcoffset() == late.utcoffset():
        return early.timestamp()
    if early.astimezone(UTC).astimezone(zone).replace(tzinfo=None, fold=0) != local.replace(fold=0):
        raise ValueError(f"found {shown}, which does not exist in {zone.key}: the clocks are put on over it")
    choices = f"{_written(early.utcoffset())} or {_written(late.utcoffset())}"
    raise ValueError(f"found {shown}, which exists twice in {zone.key}; add its offset, {choices}")


def _written(offset: timedelta | None) -> str:
    return datetime(2000, 1, 1, tzinfo=timezone(offset or timedelta())).isoformat()[-6:]
