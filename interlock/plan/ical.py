"""The evening as an iCalendar file (RFC 5545): one event a house, and one for each of its times.

All times are UTC, which a calendar shows in its own zone: so no zone's rules need be in the file, and a
change of clocks during the show is no trouble.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, datetime

from interlock.plan.times import clock_text, clocks, local
from interlock.showfile.show import Show

_OCTETS = 75  # a line's most, its end not counted (RFC 5545, 3.1)


def calendar(show: Show, stamp_wall_s: float) -> str:
    """The calendar, with CRLF line ends. ``stamp_wall_s``: UTC seconds at which it is written."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Longlace//Longlace//EN",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        f"X-WR-CALNAME:{_escaped(show.title)}",
        f"X-WR-TIMEZONE:{show.timezone}",
        *_events(show, _utc(stamp_wall_s)),
        "END:VCALENDAR",
    ]
    return "".join(f"{folded}\r\n" for line in lines for folded in _folded(line))


def _events(show: Show, stamp: str) -> Iterator[str]:
    for clock in clocks(show):
        times = list(clock.times())
        first_s, last_s = min(t for _, t in times), max(t for _, t in times)
        said = "\n".join(f"{what}: {clock_text(show, time_s)}" for what, time_s in times)
        summary = f"{clock.name}: {show.title}"
        yield from _event(show, stamp, clock.house, "show", summary, first_s, last_s, said)
        for what, time_s in times:
            yield from _event(show, stamp, clock.house, what, f"{clock.name}: {what}", time_s, None, "")


def _event(
    show: Show,
    stamp: str,
    house: str,
    what: str,
    summary: str,
    begin_s: float,
    end_s: float | None,
    description: str,
) -> Iterator[str]:
    # The same show, house and kind keep their UID, so that a plan imported again takes the old one's place.
    key = f"{show.title}\n{show.motor_start_wall_s}\n{house}\n{what}"
    yield "BEGIN:VEVENT"
    yield f"UID:{hashlib.sha256(key.encode()).hexdigest()[:32]}@longlace.invalid"
    yield f"DTSTAMP:{stamp}"
    yield f"DTSTART:{_utc(local(show, begin_s).timestamp())}"
    if end_s is not None:
        yield f"DTEND:{_utc(local(show, end_s).timestamp())}"
    yield f"SUMMARY:{_escaped(summary)}"
    if description:
        yield f"DESCRIPTION:{_escaped(description)}"
    yield f"LOCATION:{_escaped(house)}"
    yield "TRANSP:OPAQUE" if end_s is not None else "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _utc(wall_s: float) -> str:
    return f"{datetime.fromtimestamp(wall_s, UTC):%Y%m%dT%H%M%SZ}"


def _escaped(text: str) -> str:
    for char, instead in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(char, instead)
    return text


def _folded(line: str) -> Iterator[str]:
    """The line in pieces of at most 75 octets, no character cut, those after the first behind a blank."""
    piece, octets = "", 0
    for char in line:
        size = len(char.encode())
        if octets + size > _OCTETS:
            yield piece
            piece, octets = " ", 1
        piece, octets = piece + char, octets + size
    yield piece
