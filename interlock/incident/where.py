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
    """Film that somebody should look at, from the first to the last frame, 1-sigma of both ends included."""

    from_frame: int
    to_frame: int
    from_footage: str
    to_footage: str
    parts: tuple[str, ...]
    why: str


def footage(show: Show, frame: float) -> str:
    """``118+08`` of a print frame."""
    return show.film.format_footage(math.floor(frame))


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
    "lamp-out": "passed the gate of {s} without light (not damaged by that; not seen)",
    "lamp-dark": "passed the gate of {s} without light (not damaged by that; not seen)",
    "dowser-shut": "passed the gate of {s} behind a shut dowser (not damaged by that; not seen)",
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


def inspections(show: Show, course: Course, incident: Incident) -> tuple[Inspect, ...]:
    """The stretches of film that the incident concerns, in print order; what overlaps for one reason is one stretch."""
    houses = {h.id: k for k, h in enumerate(show.houses)}
    links = {link.id: i for i, link in enumerate(show.links)}
    found: dict[tuple[str, str, float], Inspect] = {}
    for a in incident.alarms:
        if a.subject in houses and a.code in _GATE:
            span = _gate_span(show, course, a, houses[a.subject])
            why = _GATE[a.code].format(s=a.subject)
        elif a.subject in links and a.code in _LOOP:
            span = _loop_span(show, course, a, links[a.subject])
            why = _LOOP[a.code].format(s=a.subject)
        else:
            continue
        if span is not None:
            # The graver alarm on a loop replaces the milder; a gate has a stretch for each time that something was in it.
            key = (a.subject, "loop", 0.0) if a.code in _LOOP else (a.subject, a.code, a.raised_s)
            found[key] = _inspect(show, span, f"{why} ({_when(incident, a)})")
    # A gate in which film stood with light on it says more than that the motor stopped.
    heated = {(s, at_s) for s, code, at_s in found if code == "gate-heat"}
    kept = [x for (s, code, at_s), x in found.items() if not (code == "run-lost" and (s, at_s) in heated)]
    return tuple(sorted(kept, key=lambda x: (x.from_frame, x.to_frame)))


def _when(incident: Incident, a: Tripped) -> str:
    after_s = a.true_s - incident.began_s
    return "at its beginning" if after_s < 0.05 else f"{after_s:.1f} s after its beginning"


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


def _inspect(show: Show, span: tuple[float, float], why: str) -> Inspect:
    a, b = math.floor(min(span)), math.ceil(max(span))
    return Inspect(a, b, footage(show, a), footage(show, b), parts_between(show, a, b), why)
