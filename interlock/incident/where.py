"""Which film was in which gate and loop at a moment, in words that somebody with the print on a bench can use.

Footage from the head counts from the first picture frame (0+00); what is before it is leader and negative.
"""

from __future__ import annotations

import math

import msgspec

from interlock.incident.course import Course, Place
from interlock.incident.incidents import Incident
from interlock.incident.tripped import Tripped
from interlock.plan.timeline import part_at
from interlock.showfile.show import Show

SETTLED_S = 3.0
"""So long after the last alarm of the rush every machine that was to stand stands."""


class GateFilm(msgspec.Struct, frozen=True):
    """The film in one gate. ``sigma_fr``: 1-sigma, survey of the path included until a ``mark``; None: not known."""

    house: str
    frame: float | None
    sigma_fr: float | None
    speed_fps: float | None
    footage: str | None
    part: str | None
    part_footage: str | None


class LoopFilm(msgspec.Struct, frozen=True):
    """The film between two gates: print frames from ``from_frame`` (in the downstream gate) to ``to_frame`` (upstream)."""

    link: str
    from_frame: float | None
    to_frame: float | None
    from_footage: str | None
    to_footage: str | None
    parts: tuple[str, ...]


class Inspect(msgspec.Struct, frozen=True):
    """Film that the incident concerns, from the first to the last frame.

    ``unseen``: it only passed without picture; then ``sigma_fr`` is how sure both ends are (1-sigma). Otherwise somebody
    should look at it, and 1-sigma of both ends is in it. ``after_s``: when, seconds after the incident began.
    """

    from_frame: int
    to_frame: int
    from_footage: str
    to_footage: str
    parts: tuple[str, ...]
    why: str
    unseen: bool = False
    sigma_fr: float | None = None
    after_s: float = 0.0


def footage(show: Show, frame: float) -> str:
    """``118+08`` of a print frame."""
    return show.film.format_footage(math.floor(frame))


def head_words(show: Show, frame: float) -> str:
    """The same in a sentence: ``118+08 from the head``, ``28+13 before the first picture frame``."""
    text = footage(show, frame)
    return f"{text[1:]} before the first picture frame" if text.startswith("-") else f"{text} from the head"


def part_name(show: Show, frame: float) -> str:
    """The part, or what is there instead."""
    if frame < 0:
        return "leader"
    part = part_at(show, frame)
    return part.name if part is not None else "past the end of the print"


def part_footage(show: Show, frame: float) -> str | None:
    """Footage from the head of the part that the frame belongs to; None in the leader."""
    part = part_at(show, frame) if frame >= 0 else None
    return None if part is None else footage(show, frame - part.start_fr)


def gates(show: Show, places: list[Place]) -> tuple[GateFilm, ...]:
    """Every gate, in film order."""
    return tuple(
        GateFilm(p.house, None, None, p.speed_fps, None, None, None)
        if p.frame is None
        else GateFilm(
            house=p.house,
            frame=p.frame,
            sigma_fr=p.sigma_fr,
            speed_fps=p.speed_fps,
            footage=footage(show, p.frame),
            part=part_name(show, p.frame),
            part_footage=part_footage(show, p.frame),
        )
        for p in places
    )


def loops(show: Show, places: list[Place]) -> tuple[LoopFilm, ...]:
    """Every link, in film order."""
    found: list[LoopFilm] = []
    for link, up, down in zip(show.links, places, places[1:], strict=False):
        a, b = down.frame, up.frame
        if a is None or b is None:
            known_a, known_b = a is not None, b is not None
            found.append(
                LoopFilm(
                    link.id, a, b,
                    footage(show, a) if known_a and a is not None else None,
                    footage(show, b) if known_b and b is not None else None,
                    (),
                )
            )  # fmt: skip
            continue
        found.append(LoopFilm(link.id, a, b, footage(show, a), footage(show, b), parts_between(show, a, b)))
    return tuple(found)


def parts_between(show: Show, a: float, b: float) -> tuple[str, ...]:
    """The parts that print frames from ``a`` to ``b`` belong to, in print order."""
    low, high = min(a, b), max(a, b)
    names = ["leader"] if low < 0 else []
    names += [p.name for p in show.parts if p.start_fr < high and p.end_fr > low]
    if high >= show.length_fr:
        names.append("past the end of the print")
    return tuple(names)


_GATE = {
    "gate-heat": "stood in the gate of {s} with light on it",
    "run-lost": "was in the gate of {s} as its motor stopped",
    "count-lost": "passed the gate of {s} while contact and counter contradicted each other",
    "film-out": "was near the gate of {s} when its sensor said that film was absent",
    "lamp-out": "passed the gate of {s} without light",
    "lamp-dark": "passed the gate of {s} without light",
    "dowser-shut": "passed the gate of {s} behind a shut dowser",
    "start-late": "was in the gate of {s} as it started late",
}
_LOOP = {
    "slack-low": "was between the gates of {s} when half of a limit was used",
    "slack-critical": "was between the gates of {s} when three quarters of a limit were used",
    "slack-lost": "was between the gates of {s} when its limit was reached",
}
_UNSEEN = ("lamp-out", "lamp-dark", "dowser-shut")
_PASSED = (*_UNSEEN, "count-lost")
"""Alarms that concern everything that passed the gate while they stood."""
_MILD = ("slack-low", "slack-critical", "slack-lost")
"""From the mildest on: a loop's stretches are those of its gravest alarm."""


def inspections(show: Show, course: Course, incident: Incident) -> tuple[Inspect, ...]:
    """The stretches of film that the incident concerns, in print order; one a gate for each time, one a loop for each time
    that the gravest of its limits was reached."""
    houses = {h.id: k for k, h in enumerate(show.houses)}
    links = {link.id: i for i, link in enumerate(show.links)}
    gravest: dict[str, int] = {}
    for a in incident.alarms:
        if a.subject in links and a.code in _LOOP:
            gravest[a.subject] = max(gravest.get(a.subject, 0), _MILD.index(a.code))
    found: dict[tuple[str, str, float], Inspect] = {}
    for a in incident.alarms:
        if a.subject in houses and a.code in _GATE:
            span = _gate_span(show, course, a, houses[a.subject])
            why = _GATE[a.code].format(s=a.subject)
        elif a.subject in links and a.code in _LOOP and _MILD.index(a.code) == gravest[a.subject]:
            span = _loop_span(show, course, a, links[a.subject])
            why = _LOOP[a.code].format(s=a.subject)
        else:
            continue
        if span is not None:
            found[a.subject, a.code, a.raised_s] = _inspect(show, course, incident, a, span, why)
    # A gate in which film stood with light on it says more than that the motor stopped.
    heated = {(s, at_s) for s, code, at_s in found if code == "gate-heat"}
    kept = [x for (s, code, at_s), x in found.items() if not (code == "run-lost" and (s, at_s) in heated)]
    return tuple(sorted(kept, key=lambda x: (x.from_frame, x.to_frame)))


def _gate_span(show: Show, course: Course, a: Tripped, k: int) -> tuple[float, float] | None:
    first = course.places(show, a.true_s)[k]
    if first.frame is None:
        return None
    end_s = (a.gone_s if a.code in _PASSED and a.gone_s is not None else a.raised_s) + SETTLED_S
    i = min(int(course.at_s.searchsorted(end_s)), len(course) - 1)
    last = float(course.frame[k, i])
    if a.code in _PASSED:
        last = course.places(show, end_s - SETTLED_S)[k].frame or last
    sigma = first.sigma_fr or 0.0
    last = first.frame if math.isnan(last) else max(first.frame, last)
    if a.code in _UNSEEN:
        # Only picture can be missed; leader and tail are not for anybody's eyes.
        low, high = max(first.frame, 0.0), min(last, float(show.last_picture_fr))
        return (low, high) if low < high else None
    return first.frame - sigma, last + sigma


def _loop_span(show: Show, course: Course, a: Tripped, i: int) -> tuple[float, float] | None:
    places = course.places(show, a.true_s)
    up, down = places[i], places[i + 1]
    if up.frame is None or down.frame is None:
        return None
    return down.frame - (down.sigma_fr or 0.0), up.frame + (up.sigma_fr or 0.0)


def _inspect(
    show: Show, course: Course, incident: Incident, a: Tripped, span: tuple[float, float], why: str
) -> Inspect:
    first, last = math.floor(min(span)), math.ceil(max(span))
    unseen = a.code in _UNSEEN
    house = next((p for p in course.places(show, a.true_s) if p.house == a.subject), None)
    return Inspect(
        from_frame=first,
        to_frame=last,
        from_footage=footage(show, first),
        to_footage=footage(show, last),
        parts=parts_between(show, first, last),
        why=why,
        unseen=unseen,
        sigma_fr=house.sigma_fr if unseen and house is not None else None,
        after_s=max(0.0, a.true_s - incident.began_s),
    )
