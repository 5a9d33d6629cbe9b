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
from interlock.incident.where import Inspect, head_words, part_name
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


def percent(share: float) -> str:
    """``38 %`` of a share of 1."""
    return f"{100.0 * share:.0f} %"


def plus_minus(sigmas_fr: float) -> str:
    """``± 0.8`` frames; what would round to nothing keeps its digits, for nothing is known that well."""
    return f"± {sigmas_fr:.1f}" if sigmas_fr >= 0.1 else f"± {max(sigmas_fr, 0.01):.2f}"


def listed(words: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return f"{', '.join(words[:-1])} and {words[-1]}" if len(words) > 1 else "".join(words)


def local(timezone: str, at_s: float, form: str = "%H:%M:%S") -> str:
    """The clock of a time zone; UTC's where this computer does not know it."""
    try:
        zone: ZoneInfo | None = ZoneInfo(timezone)
    except (ZoneInfoNotFoundError, ValueError):
        zone = None
    return datetime.fromtimestamp(at_s, zone or UTC).strftime(form)


def show_time(show_s: float | None) -> str:
    """``0:05:00.2`` after show zero, in words before it."""
    return "before show zero" if show_s is None else f"show time {format_time(show_s, 1)}"


def told(
    r: Recorded,
    stories: Sequence[Incident],
    links: Sequence[LinkCourse],
    places: Sequence[Place],
    film: Sequence[Inspect],
) -> tuple[str, ...]:
    """Three sentences about the whole record. ``places``, ``film``: of the gravest incident, where there is one."""
    what = "rehearsal on simulated machines" if r.meta.rehearsal else "show"
    houses = listed([h.id for h in r.show.houses])
    until = ", where it was cut off or is still being written" if r.cut else ""
    zone = r.meta.timezone
    first = (
        f"The record of this {what} of “{r.show.title}” in houses {houses} (film order) reaches from "
        f"{local(zone, r.began_s, '%Y-%m-%d %H:%M:%S')} to {local(zone, r.ended_s)} ({zone}){until}."
    )
    worst = gravest(stories)
    if not r.lines:
        return first, "Not one event is in it.", "So what happened afterwards is not known from it."
    if worst is None:
        widest = max(
            (k for k in links if k.widest_used is not None), key=lambda k: k.widest_used or 0.0, default=None
        )
        return (
            first,
            f"No alarm was raised in it{', as far as it goes' if r.cut else ''}.",
            "No drift was known." if widest is None
            else f"The link that used most of a limit was {widest.link}: {percent(widest.widest_used or 0.0)}, "
            f"at {show_time(widest.widest_show_s)}.",
        )  # fmt: skip
    many = "One incident is" if len(stories) == 1 else f"{len(stories)} incidents are"
    grave = "" if len(stories) == 1 else f"; the gravest is number {worst.number}"
    second = f"{many} in it{grave}: {_first(r, worst, places)}{_followed(worst, brief=True)}."
    return first, second, _outcome(worst, film)


def told_incident(
    r: Recorded, s: Incident, places: Sequence[Place], film: Sequence[Inspect]
) -> tuple[str, ...]:
    """Three sentences about one incident."""
    opening = f"{_first(r, s, places)}."
    followed = _followed(s).removeprefix("; ")
    return (
        opening[:1].upper() + opening[1:],
        (followed[:1].upper() + followed[1:] if followed else "No other alarm is recorded with it") + ".",
        _outcome(s, film),
    )


def _first(r: Recorded, s: Incident, places: Sequence[Place]) -> str:
    a = s.first
    zero = None if a.raised_show_s is None else a.raised_show_s - (a.raised_s - s.began_s)
    kind = CATALOGUE.get(a.code)
    means = f" ({kind.means})" if kind is not None else ""
    text = f"at {local(r.meta.timezone, s.began_s)} ({show_time(zero)}) the first alarm recorded was {a.name}{means}"
    text += _loop_words(a)
    frame = next((p.frame for p in places if p.house == a.subject), None)
    if frame is not None:
        part = f"“{part_name(r.show, frame)}”" if frame >= 0.0 else "leader"
        text += f", with {part} in that gate, {head_words(r.show, frame)}"
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


def _followed(s: Incident, *, brief: bool = False) -> str:
    """What came after the first alarm; ``brief``: of what came late the gravest alone."""
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
        last = span(later[-1].raised_s - s.began_s)
        names = later if not brief else [min(later, key=lambda a: (a.suppressed, *a.weight))]
        text += f"; {_count(later)} came later, until {last} after its beginning{_named(names, s)}"
    others = [a.name for a in rest if a.first_out and a.subject != s.first.subject]
    return f"{text}; the first of another group was {listed(others)}" if others else text


def _count(alarms: Sequence[Tripped]) -> str:
    return "one more alarm" if len(alarms) == 1 else f"{len(alarms)} more alarms"


def _named(alarms: Sequence[Tripped], s: Incident | None = None) -> str:
    """The gravest by name; with ``s`` each with its time after the beginning."""
    firsts: dict[str, Tripped] = {}
    for a in [a for a in alarms if a.priority == "high" and not a.suppressed] or alarms:
        firsts.setdefault(a.name, a)
    names = [
        name if s is None else f"{name} after {span(a.raised_s - s.began_s)}" for name, a in firsts.items()
    ]
    more = len(names) - ALSO
    return f" ({listed([*names[:ALSO], *([f'{more} others'] if more > 0 else [])])})"


def _outcome(s: Incident, film: Sequence[Inspect]) -> str:
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
    return f"{seen}; {ack}; {gone}{stood}{film_words(film)}."


def film_words(film: Sequence[Inspect]) -> str:
    """Which feet the incident concerns, at the end of a sentence."""
    text = ""
    for unseen, words in (
        (False, "film to inspect"),
        (True, "film that passed without its picture being seen"),
    ):
        some = [x for x in film if x.unseen is unseen]
        if some:
            low, high = min(some, key=lambda x: x.from_frame), max(some, key=lambda x: x.to_frame)
            where = "" if len(some) == 1 else f"{len(some)} stretches between "
            to = " and " if len(some) > 1 else " to "
            parts = listed(list(dict.fromkeys(p for x in some for p in x.parts)))
            text += f"; {words}: {where}{low.from_footage}{to}{high.to_footage} ({parts})"
    return text
