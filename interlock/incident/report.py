"""The incident report as plain values: reckoned once, then written as HTML, Markdown or JSON.

It states what was recorded and how sure that is. It never says who was at fault: a record cannot know that.
Keys carry their units; times are UTC (``_at``, RFC 3339) or seconds after show zero (``show_s``).
"""

from __future__ import annotations

import hashlib
import json

import msgspec

from interlock.incident.detail import BEFORE_S, Brief, Detail, brief, detail, until, utc
from interlock.incident.incidents import Incident, gravest, gravity, incidents
from interlock.incident.links import LinkCourse, link_courses, unknown_drift
from interlock.incident.measures import Measures, measure
from interlock.incident.recorded import Recorded
from interlock.incident.signals import Stretch, adapter_trouble, not_wired, unknown_signals
from interlock.incident.told import told
from interlock.incident.where import inspections
from interlock.incident.window import Window, read_window

MOST_DETAILED = 20
"""Incidents with a time line and charts of their own, the gravest first; all others are listed."""

PLACES: tuple[tuple[str, str], ...] = (
    ("seen", "What people saw and heard"),
    ("film", "The film as inspected: which feet, what was found"),
    ("righted", "What was done to put it right, by whom, when"),
    ("cause", "What people hold to be the cause, and how they know"),
)
"""What people may add to each incident."""
WHOLE_PLACES: tuple[tuple[str, str], ...] = (
    ("present", "Who was there, and in which booth"),
    ("remarks", "Anything else: the print, the audience, injuries, who was told"),
)
"""What people may add to the whole report."""

CAUTION = (
    "This report states what contacts, counters and people told the desk, and how sure it was. What is not wired or "
    "was not said is not in it. The first alarm of a group is the first that was recorded; it need not be the cause. "
    "Nothing here says who was at fault. The program watches and advises; it is no safety device."
)


class Report(msgspec.Struct, frozen=True):
    """Everything. ``id`` tells one record from another."""

    id: str
    title: str
    record: str
    head: str
    cut: bool
    damage: str | None
    rehearsal: bool
    seed: int | None
    scenario: str | None
    program: str
    python: str
    timezone: str
    began_at: str
    ended_at: str
    houses: tuple[str, ...]
    film: str
    fps: float
    refolded: bool
    sentences: tuple[str, ...]
    incidents: tuple[Brief, ...]
    details: tuple[Detail, ...]
    links: tuple[LinkCourse, ...]
    unknown: tuple[Stretch, ...]
    not_wired: tuple[str, ...]
    adapters: tuple[str, ...]
    measures: Measures
    caution: str = CAUTION

    def as_json(self, people: dict[str, str]) -> str:
        """One JSON document; ``people``: what people have added, by place."""
        return json.dumps(
            {**msgspec.to_builtins(self), "people": people}, ensure_ascii=False, allow_nan=False
        )


class Drawn(msgspec.Struct, frozen=True):
    """What the charts need beside the report: the record, and the readings around each detailed incident."""

    recorded: Recorded
    stories: tuple[Incident, ...]
    windows: dict[int, Window]


def record_id(r: Recorded) -> str:
    """Tells one record from another: from what it is of, which is written at its beginning and never changes."""
    return hashlib.sha256(msgspec.json.encode(r.meta)).hexdigest()[:16]


def make_report(r: Recorded) -> tuple[Report, Drawn]:
    """The report of a record."""
    stories = incidents(r.lines)
    detailed = {s.number for s in sorted(stories, key=gravity)[:MOST_DETAILED]}
    signals = unknown_signals(r.lines, r.show)
    drifts = unknown_drift(r.show, r.course, r.lines)
    windows: dict[int, Window] = {}
    details: list[Detail] = []
    for s in stories:
        if s.number in detailed:
            windows[s.number] = read_window(r.source, r.lines, s.began_s - BEFORE_S, until(s))
            details.append(detail(r, s, windows[s.number], [*signals, *drifts]))
    worst = gravest(stories)
    links = link_courses(r.show, r.course, drifts, (a for s in stories for a in s.alarms))
    alarms = measure((x for _, x in r.lines), r.ended_s - r.began_s)
    report = Report(
        id=record_id(r),
        title=r.show.title,
        record=r.name,
        head=r.head,
        cut=r.cut,
        damage=r.damage,
        rehearsal=r.meta.rehearsal,
        seed=r.meta.seed,
        scenario=_scenario_title(r.meta.scenario),
        program=r.meta.program,
        python=r.meta.python,
        timezone=r.meta.timezone,
        began_at=utc(r.began_s),
        ended_at=utc(r.ended_s),
        houses=tuple(h.id for h in r.show.houses),
        film=r.show.film.name,
        fps=r.show.fps,
        refolded=r.refolded,
        sentences=told(
            r,
            stories,
            links,
            () if worst is None else r.course.places(r.show, worst.began_s),
            () if worst is None else inspections(r.show, r.course, worst),
        ),
        incidents=tuple(brief(s) for s in stories),
        details=tuple(details),
        links=links,
        unknown=tuple(sorted([*signals, *drifts], key=lambda s: (s.from_s, s.subject))),
        not_wired=not_wired(r.show),
        adapters=adapter_trouble(r.lines),
        measures=alarms,
    )
    return report, Drawn(r, tuple(stories), windows)


def _scenario_title(text: str | None) -> str | None:
    if text is None:
        return None
    first = next((line for line in text.splitlines() if line.strip().startswith("title")), "")
    return first.partition("=")[2].strip().strip('"') or "without a title"
