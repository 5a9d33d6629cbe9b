"""What happened, in three sentences: of the whole show, and of one incident. Cautious: what was recorded, not who did wrong."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from interlock.film import format_time
from interlock.incident.course import Place
from interlock.incident.incidents import Incident, gravest
from interlock.incident.links import LinkCourse
from interlock.incident.recorded import Recorded
from interlock.incident.tripped import Tripped
from interlock.incident.where import footage, part_name
from interlock.watch.catalogue import CATALOGUE

ALSO = 5
"""Alarms that followed which are named one by one."""


def span(seconds: float | None) -> str:
    """``2.3 s``, ``4 min 10 s``, ``1 h 05 min``; ``not recorded`` for None."""
    if seconds is None:
        return "not recorded"
    if seconds < 60.0:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest:02d} s" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"


def listed(words: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return f"{', '.join(words[:-1])} and {words[-1]}" if len(words) > 1 else "".join(words)


def local(r: Recorded, at_s: float, form: str = "%H:%M:%S") -> str:
    """The clock of the show's time zone."""
    try:
        zone: ZoneInfo | None = ZoneInfo(r.meta.timezone)
    except (ZoneInfoNotFoundError, ValueError):
        zone = None
    return datetime.fromtimestamp(at_s, zone or UTC).strftime(form)


def show_time(show_s: float | None) -> str:
    """``0:05:00.2`` after show zero, in words before it."""
    return "before show zero" if show_s is None else f"show time {format_time(show_s, 1)}"


def told(r: Recorded, stories: Sequence[Incident], links: Sequence[LinkCourse]) -> tuple[str, ...]:
    """Three sentences about the whole record."""
    what = "rehearsal on simulated machines" if r.meta.rehearsal else "show"
    houses = listed([h.id for h in r.show.houses])
    until = ", where it was cut off or is still being written" if r.cut else ""
    first = (
        f"The record of this {what} of “{r.show.title}” in houses {houses} (film order) reaches from "
        f"{local(r, r.began_s, '%Y-%m-%d %H:%M:%S')} to {local(r, r.ended_s)} ({r.meta.timezone}){until}."
    )
    worst = gravest(stories)
    if worst is None:
        widest = max(
            (k for k in links if k.widest_used is not None), key=lambda k: k.widest_used or 0.0, default=None
        )
        return (
            first,
            "No alarm was raised in it.",
            "No drift was known." if widest is None
            else f"The link that used most of a limit was {widest.link}: {widest.widest_used:.0%}, "
            f"at {show_time(widest.widest_show_s)}.",
        )  # fmt: skip
    many = "One incident is" if len(stories) == 1 else f"{len(stories)} incidents are"
    grave = "" if len(stories) == 1 else f"; the gravest is number {worst.number}"
    second = f"{many} in it{grave}: {_first(r, worst, None)}{_followed(worst)}."
    return first, second, _outcome(worst)


def told_incident(r: Recorded, s: Incident, places: Sequence[Place]) -> tuple[str, ...]:
    """Three sentences about one incident."""
    opening = f"{_first(r, s, places)}."
    followed = _followed(s).removeprefix("; ")
    return (
        opening[:1].upper() + opening[1:],
        (followed[:1].upper() + followed[1:] if followed else "No other alarm is recorded with it") + ".",
        _outcome(s),
    )


def _first(r: Recorded, s: Incident, places: Sequence[Place] | None) -> str:
    a = s.first
    zero = None if a.raised_show_s is None else a.raised_show_s - (a.raised_s - s.began_s)
    kind = CATALOGUE.get(a.code)
    means = f" ({kind.means})" if kind is not None else ""
    text = f"at {local(r, s.began_s)} ({show_time(zero)}) the first alarm recorded was {a.name}{means}"
    text += _loop_words(a)
    if places is None:
        return text
    frame = next((p.frame for p in places if p.house == a.subject), None)
    if frame is not None:
        text += f", with “{part_name(r.show, frame)}” in that gate, {footage(r.show, frame)} from the head"
    return text


def _loop_words(a: Tripped) -> str:
    """What a link's alarm was raised by."""
    switch, drift, toward = a.values.get("switch"), a.values.get("drift_fr"), a.values.get("toward")
    if isinstance(switch, str):
        by_machines = (
            f", while by the machines it was at {drift:+.1f} frames" if isinstance(drift, float) else ""
        )
        return f", by the word of its {switch} switch{by_machines}"
    return (
        f", at {drift:+.1f} frames, towards {toward}"
        if isinstance(drift, float) and isinstance(toward, str)
        else ""
    )


def _followed(s: Incident) -> str:
    rest = s.alarms[1:]
    if not rest:
        return ""
    rush = [a for a in rest if a.raised_s <= s.busy_until_s]
    later = rest[len(rush) :]
    text = ""
    if rush:
        within = span(rush[-1].raised_s - s.began_s)
        text = f"; within {within} {_count(rush)} followed{_named(rush)}"
    if later:
        text += f"; {_count(later)} came later, until {span(later[-1].raised_s - s.began_s)} after its beginning{_named(later)}"
    others = [a.name for a in rest if a.first_out and a.subject != s.first.subject]
    return f"{text}; the first of another group was {listed(others)}" if others else text


def _count(alarms: Sequence[Tripped]) -> str:
    return "one more alarm" if len(alarms) == 1 else f"{len(alarms)} more alarms"


def _named(alarms: Sequence[Tripped]) -> str:
    names = list(dict.fromkeys(a.name for a in alarms if a.priority == "high" and not a.suppressed))
    names = names or list(dict.fromkeys(a.name for a in alarms))
    more = len(names) - ALSO
    return f" ({listed([*names[:ALSO], *([f'{more} others'] if more > 0 else [])])})"


def _outcome(s: Incident) -> str:
    a = s.answered
    seen = (
        f"A person's first action in the record is {a.person_did} after {span(a.person)}"
        if a.person is not None
        else "No action of a person is in the record"
    )
    ack = (
        f"acknowledged after {span(a.acknowledged)}"
        if a.acknowledged is not None
        else "no alarm of it was acknowledged"
    )
    gone = (
        f"all its conditions were over after {span(a.gone)}"
        if a.gone is not None
        else "not all of its conditions were over when the record ends"
    )
    stood = ""
    if a.stopped is not None:
        stood = f"; the show stood from {span(a.stopped)} on" + (
            f" and all machines ran again after {span(a.running)}"
            if a.running is not None
            else " and did not run again in this record"
        )
    return f"{seen}; {ack}; {gone}{stood}."
