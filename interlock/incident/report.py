"""The incident report as plain values: reckoned once, then written as HTML, Markdown or JSON.

It states what was recorded and how sure that is. It never says who was at fault: a record cannot know that.
Keys carry their units; times are UTC (``_at``, RFC 3339) or seconds after show zero (``show_s``).
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime

import msgspec

from interlock.incident.facts import contributing
from interlock.incident.incidents import Answered, Incident, gravest, gravity, incidents
from interlock.incident.links import LinkCourse, link_courses, unknown_drift
from interlock.incident.measures import Measures, measure
from interlock.incident.moments import Moment, moments
from interlock.incident.recorded import Recorded
from interlock.incident.signals import Stretch, adapter_trouble, not_wired, unknown_signals
from interlock.incident.told import told, told_incident
from interlock.incident.tripped import Tripped
from interlock.incident.where import GateFilm, Inspect, LoopFilm, gates, inspections, loops
from interlock.incident.window import Window, read_window
from interlock.watch.catalogue import CATALOGUE

BEFORE_S, AFTER_S = 20.0, 20.0
"""What is shown around the first rush of an incident."""
NEAR_END_S = 180.0
"""An incident that is over within this is shown to its end."""
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


class Detail(msgspec.Struct, frozen=True):
    """One incident, in full. ``key`` names it for what people add; it is the same whenever the report is made again."""

    key: str
    number: int
    title: str
    priority: str
    began_at: str
    began_show_s: float | None
    sentences: tuple[str, ...]
    first_out: Tripped
    followed: tuple[Tripped, ...]
    answered: Answered
    ended: bool
    gates: tuple[GateFilm, ...]
    loops: tuple[LoopFilm, ...]
    inspect: tuple[Inspect, ...]
    unknown: tuple[str, ...]
    facts: tuple[str, ...]
    moments: tuple[Moment, ...]
    moments_left_out: int


class Brief(msgspec.Struct, frozen=True):
    """One incident, in a row of the list."""

    number: int
    title: str
    priority: str
    at: str
    show_s: float | None
    alarms: int
    person_s: float | None
    acknowledged_s: float | None
    gone_s: float | None
    means: str = ""
    gravest: str | None = None
    """What came after it and weighs more."""


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


def until(s: Incident) -> float:
    """To where the readings around an incident are shown, UTC seconds: past its first rush, and past its end if that is near."""
    rush_s = s.busy_until_s + AFTER_S
    gone_s = s.answered.gone
    if gone_s is None or gone_s > NEAR_END_S:
        return rush_s
    return max(rush_s, s.began_s + gone_s + AFTER_S / 2.0)


def utc(at_s: float) -> str:
    """RFC 3339 with milliseconds."""
    return datetime.fromtimestamp(at_s, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


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
            details.append(_detail(r, s, windows[s.number], [*signals, *drifts]))
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
        incidents=tuple(_brief(s) for s in stories),
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


def _brief(s: Incident) -> Brief:
    return Brief(
        number=s.number,
        title=s.first.name,
        priority=s.priority,
        at=utc(s.began_s),
        show_s=s.first.raised_show_s,
        alarms=len(s.alarms),
        person_s=s.answered.person,
        acknowledged_s=s.answered.acknowledged,
        gone_s=s.answered.gone,
        means=kind.means if (kind := CATALOGUE.get(s.first.code)) is not None else "",
        gravest=heavier.name if (heavier := s.gravest_after_first) is not None else None,
    )


def _detail(r: Recorded, s: Incident, window: Window, unknown: list[Stretch]) -> Detail:
    places = r.course.places(r.show, s.began_s)
    film = inspections(r.show, r.course, s)
    here = [
        f"{x.subject}: {x.what}"
        for x in unknown
        if x.from_s <= until(s) and (x.to_s is None or x.to_s >= s.began_s)
    ]
    shown, left_out = moments(r, window, s.began_s - BEFORE_S, until(s), s)
    zero = s.first.raised_show_s
    return Detail(
        key=f"{s.first.code}/{s.first.subject.replace('>', '~')}@{s.first.seq}",
        number=s.number,
        title=s.first.name,
        priority=s.priority,
        began_at=utc(s.began_s),
        began_show_s=None if zero is None else zero - (s.first.raised_s - s.began_s),
        sentences=told_incident(r, s, places, film),
        first_out=s.first,
        followed=s.alarms[1:],
        answered=s.answered,
        ended=s.ended,
        gates=gates(r.show, places),
        loops=loops(r.show, places),
        inspect=film,
        unknown=tuple(dict.fromkeys(here)),
        facts=contributing(r, s, window),
        moments=shown,
        moments_left_out=left_out,
    )
