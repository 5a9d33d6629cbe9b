"""A record as tables: readings, events, and the state of every house and link, second by second.

Every column is in :data:`TABLES` with its unit; docs/export.md is checked against it. Times: ``at`` is UTC,
RFC 3339; ``_s`` are seconds. What is not known is empty (CSV) or null.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Literal, TypeAlias

import msgspec

from interlock.incident.recorded import refold
from interlock.journal import Record
from interlock.sentences import sentence
from interlock.showfile.show import Show
from interlock.signals import Contacts, Counts, Positions, Presence
from interlock.watch.inputs import Action, Anchor, Input, RecordHealth
from interlock.watch.state import HouseLine, Line, LinkLine

Type: TypeAlias = Literal["text", "number", "whole", "yes-no"]
Cell: TypeAlias = str | float | int | bool | None
Row: TypeAlias = tuple[Cell, ...]


class Column(msgspec.Struct, frozen=True, array_like=True):
    """One column: its name, its type, its unit (empty for none), what it is."""

    name: str
    type: Type
    unit: str
    means: str


_COLUMNS = """
[readings]
input | whole |  | number of the input in the record
at | text | UTC, RFC 3339 | when it was received
at_s | number | s | the same in desk seconds (monotonic, arbitrary zero)
fact_s | number | s | desk second at which it was true; never later than at_s
adapter | text |  | which adapter; nothing for operator actions and the desk's own
kind | text |  | contact, count, position, presence, action, anchor, record
signal | text |  | as in the show file: 4.run, 4>3.arm; for others what it is of
value | number | as the kind | contact: 1 true, 0 false; count: frames; position: −1 tight … +1 spill
pulse_s | number | s | count: desk second of the latest pulse
text | text |  | presence: up, gone or restarted; action: its keys as JSON
[events]
seq | whole |  | the desk's own count of lines
input | whole |  | number of the input that brought it
at | text | UTC, RFC 3339 | when it was said
show_s | number | s | after show zero; nothing before
kind | text |  | show, house, link, alarm, cue, adapter, operator, error
subject | text |  | house, link, adapter or desk
code | text |  | alarm code, cue or operator action
state | text |  | the state or phase that it is in now
priority | text |  | of an alarm: high, medium, low
first_out | yes-no |  | the alarm is the first of its group
group | whole |  | seq of the group's first alarm
sentence | text |  | the event in words
line | text |  | the whole line as JSON, as in --plain
[houses]
at | text | UTC, RFC 3339 | when it was said
show_s | number | s | after show zero; nothing before
house | text |  | the house
phase | text |  | threaded, leader, picture, tail, clear
run | yes-no |  | the motor turns
lamp | yes-no |  | the lamp is lit
dowser | yes-no |  | the dowser is open
film | yes-no |  | film is present at its sensor
frame | number | frames | print frame in the gate; negative: leader
expected_frame | number | frames | by the plan
sigma_fr | number | frames | 1-sigma of frame, survey included until a mark
speed_fps | number | frames/s | measured; nothing without a counter
part | text |  | of the print
dark | yes-no |  | no picture wanted here
[links]
at | text | UTC, RFC 3339 | when it was said
show_s | number | s | after show zero; nothing before
link | text |  | as 4>3
state | text |  | threaded, running, parted, released
drift_fr | number | frames | upstream minus downstream since threaded: + spill, − tight
sigma_fr | number | frames | 1-sigma of drift_fr
toward | text |  | tight or spill
used | number | 1 | share of that limit
left_fr | number | frames | to the nearer limit
rate_fps | number | frames/s | at which the drift changes
to_limit_05_s | number | s | time to the limit, 5 %; nothing where not bounded
to_limit_50_s | number | s | the same, 50 %
to_limit_95_s | number | s | the same, 95 %
"""
"""Of each table: name, type, unit and meaning of its columns, as in docs/export.md."""


def _tables(text: str) -> Iterator[tuple[str, tuple[Column, ...]]]:
    for section in text.strip().removeprefix("[").split("\n["):
        name, *rows = section.splitlines()
        cells = [[cell.strip() for cell in row.split("|")] for row in rows]
        yield name.removesuffix("]"), tuple(msgspec.convert(cell, Column) for cell in cells)


TABLES: MappingProxyType[str, tuple[Column, ...]] = MappingProxyType(dict(_tables(_COLUMNS)))


def rfc3339(wall_s: float) -> str:
    """UTC with milliseconds."""
    return (
        datetime.fromtimestamp(round(wall_s, 3), UTC)
        .isoformat(timespec="milliseconds")
        .replace("+00:00", "Z")
    )


def readings(record: Record) -> Iterator[Row]:
    """Everything that was folded, one row a signal."""
    offset_s = 0.0
    for n, x in record.inputs():
        if isinstance(x, Anchor):
            offset_s = x.wall_s - x.at_s
        head = (n, rfc3339(x.at_s + offset_s), x.at_s)
        yield from (head + row for row in _cells(x))


def _cells(x: Input) -> Iterator[Row]:
    if isinstance(x, Contacts):
        for signal, on in x.values:
            yield x.fact_s, x.adapter, "contact", signal, 1.0 if on else 0.0, None, None
    elif isinstance(x, Counts):
        for signal, frames, pulse_s in x.values:
            yield x.fact_s, x.adapter, "count", signal, float(frames), pulse_s, None
    elif isinstance(x, Positions):
        for signal, position in x.values:
            yield x.fact_s, x.adapter, "position", signal, position, None, None
    elif isinstance(x, Presence):
        yield x.fact_s, x.adapter, "presence", x.adapter, None, None, x.state
    elif isinstance(x, Action):
        yield None, None, "action", x.action, None, None, msgspec.json.encode(x).decode()
    elif isinstance(x, Anchor):
        yield None, None, "anchor", "wall_s", x.wall_s, None, None
    elif isinstance(x, RecordHealth):
        yield None, None, "record", "ok", 1.0 if x.ok else 0.0, None, x.text
    # A tick is no fact: time has passed, which every other row says as well.


def events(record: Record) -> Iterator[Row]:
    """Every event that the desk said then."""
    for n, line in record.lines():
        yield event_row(n, line)


def event_row(n: int, line: Line) -> Row:
    """One event."""

    def of(*names: str) -> Cell:
        found = next((getattr(line, k) for k in names if hasattr(line, k)), None)
        return found if isinstance(found, str | bool | int) else None

    return (
        line.seq, n, line.at, line.show_s, str(line.__struct_config__.tag),
        of("subject", "house", "link", "adapter"), of("code", "cue", "action"), of("state", "phase"),
        of("priority"), of("first_out"), of("group"), sentence(line), msgspec.json.encode(line).decode(),
    )  # fmt: skip


def states(record: Record, show: Show) -> Iterator[tuple[str, Row]]:
    """(``houses`` or ``links``, row) of every second, folded anew by today's desk: to the last digit."""
    for _, _, lines in refold(show, record.meta.rehearsal, (x for _, x in record.inputs())):
        for line in lines:
            if isinstance(line, HouseLine) and line.periodic:
                yield "houses", _house(line)
            elif isinstance(line, LinkLine) and line.periodic:
                yield "links", _link(line)


def _house(x: HouseLine) -> Row:
    return (
        x.at, x.show_s, x.house, x.phase, x.run, x.lamp, x.dowser, x.film, x.frame, x.expected_frame,
        x.sigma_fr, x.speed_fps, x.part, x.dark,
    )  # fmt: skip


def _link(x: LinkLine) -> Row:
    return (
        x.at, x.show_s, x.link, x.state, x.drift_fr, x.sigma_fr, x.toward, x.used, x.left_fr, x.rate_fps,
        *(x.to_limit_s or (None, None, None)),
    )  # fmt: skip


ROWS: MappingProxyType[str, Callable[[Record], Iterator[Row]]] = MappingProxyType(
    {"readings": readings, "events": events}
)
"""The tables that need no folding."""
