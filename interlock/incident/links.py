"""Every link over the whole show: how far it drifted, how sure that is, and when it was not known."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec
import numpy as np

from interlock.incident.course import Course
from interlock.incident.recorded import seconds_at
from interlock.incident.signals import Stretch
from interlock.incident.tripped import Tripped
from interlock.showfile.show import Show
from interlock.watch.state import Line, LinkLine, ShowLine

SHORTEST_S = 1.5
"""A drift that is missing in one second only is not worth a row."""


class LinkCourse(msgspec.Struct, frozen=True):
    """``widest_``: where the largest share of a limit was used; None: drift was never known. ``unknown_s``: how long it was
    not known while the show went on. ``sigma_most_fr``: its largest 1-sigma. ``switches``: limit switches that closed, and
    when first (seconds after show zero), by the alarms that they raised."""

    link: str
    tight_fr: float
    spill_fr: float
    wired: bool
    widest_fr: float | None
    widest_sigma_fr: float | None
    widest_used: float | None
    widest_at_s: float | None
    widest_show_s: float | None
    sigma_most_fr: float | None
    known_s: float
    unknown_s: float
    switches: tuple[tuple[str, float | None], ...] = ()


def link_courses(
    show: Show, course: Course, unknown: Sequence[Stretch], alarms: Iterable[Tripped] = ()
) -> tuple[LinkCourse, ...]:
    """Every link, in film order, from the seconds after show zero; ``unknown``: of :func:`unknown_drift`."""
    switches: dict[str, dict[str, float | None]] = {}
    for a in alarms:
        which = a.values.get("switch")
        if isinstance(which, str):
            switches.setdefault(a.subject, {}).setdefault(which, a.raised_show_s)
    going = ~np.isnan(course.show_s)
    end_s = float(course.at_s[-1]) if len(course) else 0.0
    found: list[LinkCourse] = []
    for i, link in enumerate(show.links):
        drift = np.where(going, course.drift[i], np.nan)
        known = ~np.isnan(drift)
        base = {
            "link": link.id,
            "tight_fr": link.tight_fr,
            "spill_fr": link.spill_fr,
            "wired": link.wired,
            "switches": tuple(switches.get(link.id, {}).items()),
            "known_s": float(known.sum()),
            "unknown_s": float(
                sum((x.to_s or end_s) - x.from_s for x in unknown if x.subject == f"link {link.id}")
            ),
        }
        if not known.any():
            empty = dict.fromkeys(
                (
                    "widest_fr",
                    "widest_sigma_fr",
                    "widest_used",
                    "widest_at_s",
                    "widest_show_s",
                    "sigma_most_fr",
                )
            )
            found.append(msgspec.convert({**base, **empty}, LinkCourse))
            continue
        used = np.where(drift >= 0.0, drift / link.spill_fr, -drift / link.tight_fr)
        j = int(np.nanargmax(used))
        found.append(
            msgspec.convert(
                {
                    **base,
                    "widest_fr": float(drift[j]),
                    "widest_sigma_fr": float(course.drift_sigma[i, j]),
                    "widest_used": float(used[j]),
                    "widest_at_s": float(course.at_s[j]),
                    "widest_show_s": float(course.show_s[j]),
                    "sigma_most_fr": float(np.nanmax(np.where(known, course.drift_sigma[i], np.nan))),
                },
                LinkCourse,
            )
        )
    return tuple(found)


def unknown_drift(show: Show, course: Course, lines: Sequence[tuple[int, Line]]) -> list[Stretch]:
    """When a link's drift was not known though it was wanted: after show zero, before its release."""
    if not len(course):
        return []
    released: dict[str, float] = {}
    parted: dict[str, float] = {}
    ended_s = float("inf")
    for _, x in lines:
        if isinstance(x, LinkLine) and x.state == "released":
            released.setdefault(x.link, seconds_at(x.at))
        elif isinstance(x, LinkLine) and x.state == "parted":
            parted.setdefault(x.link, seconds_at(x.at))
        elif isinstance(x, ShowLine) and x.phase == "ended":
            ended_s = seconds_at(x.at)
    found: list[Stretch] = []
    for i, link in enumerate(show.links):
        until_s = min(released.get(link.id, ended_s), ended_s)
        missing = np.isnan(course.drift[i]) & ~np.isnan(course.show_s) & (course.at_s < until_s)
        edges = np.flatnonzero(np.diff(np.concatenate(([0], missing.astype(np.int8), [0]))))
        for a, b in zip(edges[::2], edges[1::2], strict=True):
            from_s = float(course.at_s[a])
            to_s = float(course.at_s[b]) if b < len(course) else None
            if to_s is not None and to_s - from_s < SHORTEST_S:
                continue
            apart = link.id in parted and parted[link.id] <= from_s + 1.0
            what = "drift (the film was taken to be apart)" if apart else "drift"
            found.append(Stretch(f"link {link.id}", what, from_s, to_s))
    return found
