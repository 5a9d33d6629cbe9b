"""What stands in the report, in its order: headings, tables, lists and remarks, written alike as HTML and as Markdown.

Only charts are HTML's alone: :class:`Charts` says where they go.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TypeAlias

import msgspec

from interlock.incident import rows
from interlock.incident.detail import Detail
from interlock.incident.moments import WORDS
from interlock.incident.report import PLACES, WHOLE_PLACES, Report


class Heading(msgspec.Struct, frozen=True):
    """``level`` 1 is the title."""

    level: int
    text: str


class Text(msgspec.Struct, frozen=True):
    """A paragraph. ``sort``: ``summary``, ``caution``, ``remark`` or plain."""

    text: str
    sort: str = ""


class Table(msgspec.Struct, frozen=True):
    """``marked``: rows that stand out. Without a row it is the word none."""

    head: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    marked: frozenset[int] = frozenset()


class Bullets(msgspec.Struct, frozen=True):
    """A list; without an item it is the word none."""

    items: tuple[str, ...]


class Place(msgspec.Struct, frozen=True):
    """Where people add something: ``key`` is the same whenever the report is made again."""

    key: str
    words: str


class Charts(msgspec.Struct, frozen=True):
    """Of an incident, by its number; of the whole show without one."""

    incident: int | None


Part: TypeAlias = Heading | Text | Table | Bullets | Place | Charts


def parts(report: Report, people: Sequence[str]) -> Iterator[Part]:
    """The whole report. ``people``: the places into which somebody has written something."""
    yield Heading(1, title(report))
    yield Text(" ".join(report.sentences), "summary")
    yield Text(report.caution, "caution")
    about = rows.header_rows(report)
    warn = frozenset(i for i, row in enumerate(about) if row[0] in ("end", "damage"))
    yield Table(("", ""), about, warn)
    yield Heading(2, "Incidents")
    yield Table(rows.BRIEF, [rows.brief_row(b) for b in report.incidents])
    places: list[Part] = []
    for d in report.details:
        for part in _detail(d):
            places.append(part)
            yield part
    yield Heading(2, "Every link")
    yield Table(rows.LINKS, [rows.link_row(k) for k in report.links])
    yield Charts(None)
    yield Heading(2, "What was not known")
    yield Table(rows.unknown_head(report), rows.unknown_rows(report))
    yield Heading(3, "Not wired, so never known")
    yield Bullets(report.not_wired)
    yield Heading(3, "Adapters")
    yield Bullets(report.adapters)
    yield Heading(2, "The alarm system itself")
    yield Table(rows.MEASURES, rows.measure_rows(report.measures))
    yield Heading(2, "What people add")
    whole = [Place(f"show/{key}", words) for key, words in WHOLE_PLACES]
    yield from whole
    known = {p.key for p in [*places, *whole] if isinstance(p, Place)}
    yield from (Place(key, f"Added earlier ({key})") for key in sorted(set(people) - known))


def title(report: Report) -> str:
    """What stands at the top."""
    return f"{'Rehearsal report' if report.rehearsal else 'Report'}: {report.title}"


def _detail(d: Detail) -> Iterator[Part]:
    yield Heading(2, f"{d.number}. {d.title}")
    yield Text(" ".join(d.sentences))
    yield Heading(3, "How long it took")
    yield Table(rows.TOOK, rows.answer_rows(d))
    yield Heading(3, "The film at that moment")
    yield Table(rows.GATES, [rows.gate_row(g) for g in d.gates])
    yield Table(rows.LOOPS, [rows.loop_row(k) for k in d.loops])
    yield Text(rows.FOOTAGE, "remark")
    yield Heading(3, "Film to inspect")
    yield Table(rows.INSPECT, rows.inspect_rows(d, unseen=False))
    unseen = rows.inspect_rows(d, unseen=True)
    if unseen:
        yield Heading(3, "Film that passed without its picture")
        yield Table(rows.UNSEEN, unseen)
        yield Text(rows.UNSEEN_NOTE, "remark")
    yield Heading(3, "Not known at that time")
    yield Bullets(d.unknown)
    yield Heading(3, "Contributing facts")
    yield Bullets(d.facts)
    yield Charts(d.number)
    yield Heading(3, "Time line")
    firsts = frozenset(i for i, m in enumerate(d.moments) if m.first_out)
    yield Table(rows.MOMENTS, [rows.moment_row(d, m) for m in d.moments], firsts)
    yield Text(WORDS, "remark")
    if d.moments_left_out:
        yield Text(f"{d.moments_left_out} more rows were left out.", "remark")
    yield Heading(3, "What people add")
    yield from (Place(f"{d.key}/{key}", words) for key, words in PLACES)
