"""One incident of a report as plain values, in full and as a row of the list."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec

from interlock.incident.facts import contributing
from interlock.incident.incidents import Answered, Incident
from interlock.incident.moments import Moment, moments
from interlock.incident.recorded import Recorded
from interlock.incident.signals import Stretch
from interlock.incident.told import told_incident
from interlock.incident.tripped import Tripped
from interlock.incident.where import GateFilm, Inspect, LoopFilm, gates, inspections, loops
from interlock.incident.window import Window
from interlock.watch.catalogue import CATALOGUE

BEFORE_S, AFTER_S = 20.0, 20.0
"""What is shown around the first rush of an incident."""
NEAR_END_S = 180.0
"""An incident that is over within this is shown to its end."""


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


def brief(s: Incident) -> Brief:
    """The row of an incident."""
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


def detail(r: Recorded, s: Incident, window: Window, unknown: list[Stretch]) -> Detail:
    """An incident in full; ``window``: the readings around it; ``unknown``: of the whole record."""
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
