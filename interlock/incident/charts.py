"""The report's charts: around one incident, and of every link over the whole show."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from math import isnan

import numpy as np

from interlock.incident.chart import Mark, Strip, strip
from interlock.incident.contacts import concerned_houses, contacts_svg
from interlock.incident.detail import AFTER_S, BEFORE_S, until
from interlock.incident.facts import concerned_links, loops_concerned, silenced
from interlock.incident.incidents import Incident
from interlock.incident.report import Drawn
from interlock.watch.state import HouseLine

LONGEST_S = 1800.0
"""A chart around an incident that creeps on ends here; the one of the whole show goes on."""

WHOLE_LEGEND = (
    "Drift since threaded, frames, over show time: black what the desk reckoned, grey its 95 % band, dashes the two limits; + "
    "the loop grows towards spill, − it goes tight. A gap is unknown. Numbers at thin lines are incidents."
)
NEAR_LEGEND = (
    "Drift in frames: black what the desk reckoned once a second, grey its 95 % band, dashes the two limits; + the loop grows "
    "towards spill, − it goes tight. In colour, ten times a second, what the counters alone say from the beginning of the chart "
    "on. A gap is unknown."
)
MOST_MARKS = 30
CONTACTS_LEGEND = (
    "Contacts as they told it: a bar where the word holds, a thin line where it does not, "
    "nothing where it was not known."
)


def near_charts(s: Incident, drawn: Drawn) -> list[str]:
    """The contacts of the houses concerned and the loops concerned, from shortly before to shortly after."""
    r = drawn.recorded
    end_s = max(min(s.last_s, s.began_s + LONGEST_S) + AFTER_S, until(s))
    near = r.course.window(s.began_s - BEFORE_S, end_s)
    at_s, show_s = r.course.at_s[near], r.course.show_s[near]
    if len(at_s) < 2 or np.isnan(show_s).any():
        return []
    zero_s = float(at_s[0] - show_s[0])
    marks = tuple(Mark(a.raised_s - zero_s, str(n)) for n, a in enumerate(s.alarms[:MOST_MARKS], 1))
    out = [
        "<h3>Charts around it</h3><p>Numbers at thin lines are its alarms, as numbered in the time line.</p>"
    ]
    unheard = frozenset[str]().union(*silenced(r, s).values())
    told = [x for _, x in r.lines if isinstance(x, HouseLine)]
    bars = [
        f"<figure><figcaption>House {escape(h)}: contacts over show time</figcaption>{svg}</figure>"
        for h in concerned_houses(s, [x.id for x in r.show.houses], unheard)
        if (svg := contacts_svg(told, h, float(at_s[0]), min(float(at_s[-1]), until(s)), zero_s, marks))
    ]
    if bars:
        out += [f"<p>{CONTACTS_LEGEND}</p>", *bars]
    loops = [
        _near_loop(i, s, drawn, near, zero_s, marks) for i in concerned_links(r, s) if loops_concerned(s)
    ]
    if loops:
        out += [f"<p>{NEAR_LEGEND}</p>", *loops]
    return out if bars or loops else []


def _near_loop(i: int, s: Incident, drawn: Drawn, near: slice, zero_s: float, marks: tuple[Mark, ...]) -> str:
    r = drawn.recorded
    at_s, link = r.course.at_s[near], r.show.links[i]
    fine = np.arange(at_s[0], min(float(at_s[-1]), s.busy_until_s + AFTER_S), 0.1)
    moved = drawn.windows[s.number].frames_between(link.upstream, link.downstream, fine)
    start = float(r.course.drift[i, near][0])
    extra = None if moved is None or isnan(start) else (fine - zero_s, moved + start)
    name = f"{link.id}: drift around {s.first.name}"
    return _figure(
        link.id,
        Strip(
            name, r.course.show_s[near], r.course.drift[i, near], r.course.drift_sigma[i, near],
            link.tight_fr, link.spill_fr, marks, extra,
        ),
    )  # fmt: skip


def _figure(link: str, chart: Strip) -> str:
    caption = f"<figcaption>Link {escape(link)}: drift in frames over show time</figcaption>"
    return f"<figure>{caption}{strip(chart)}</figure>"


def whole_charts(drawn: Drawn) -> Iterable[str]:
    """Every link over the whole show."""
    r = drawn.recorded
    going = ~np.isnan(r.course.show_s)
    x = r.course.show_s[going]
    marks = tuple(
        Mark(s.first.raised_show_s, str(s.number)) for s in drawn.stories if s.first.raised_show_s is not None
    )[:60]
    for i, link in enumerate(r.show.links):
        yield _figure(
            link.id,
            Strip(
                f"{link.id}: drift over the show",
                x, r.course.drift[i][going], r.course.drift_sigma[i][going],
                link.tight_fr, link.spill_fr, marks,
            ),
        )  # fmt: skip
