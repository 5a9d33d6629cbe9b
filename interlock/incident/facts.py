"""Contributing facts: what the record holds about the time before an incident, without saying what caused what."""

from __future__ import annotations

from math import isnan

import numpy as np

from interlock.incident.incidents import Incident
from interlock.incident.recorded import Recorded, seconds_at
from interlock.incident.told import listed, percent, plus_minus, span
from interlock.incident.tripped import Tripped
from interlock.incident.window import Window
from interlock.sentences import sentence
from interlock.watch.state import AdapterLine, AlarmLine, LinkLine, OperatorLine

LOOK_BACK_S = 120.0
AFTER_LAST_S = 60.0
"""A word that comes within this of an incident's last alarm is still of it."""
REACTION_S = 1.5
"""[P] Green 2000: a surprise takes a person 1.5 s (drivers braking, not booths)."""


def contributing(r: Recorded, s: Incident, window: Window) -> tuple[str, ...]:
    """In sentences, nearest to the incident first."""
    return (
        *_contradictions(s),
        *_apart(r, s),
        *_unseen_by(r, s),
        *(_loops_before(r, s) if loops_concerned(s) else ()),
        *_time_left(s),
        *_speeds(s),
        *_wires(r, s),
        *_before(r, s),
        *_switches(window, s),
    )


_PICTURE = frozenset(
    {"lamp-dark", "lamp-out", "lamp-against-dowser", "lamp-left-on", "dowser-shut", "dowser-open-early"}
)


def loops_concerned(s: Incident) -> bool:
    """False where lamps and dowsers alone are: the loops say nothing of these."""
    return not all(a.code in _PICTURE for a in s.alarms)


def silenced(r: Recorded, s: Incident) -> dict[str, frozenset[str]]:
    """The adapters that fell silent in it, each with the houses, links and platters that it speaks for."""
    lost = {a.subject for a in s.alarms if a.code in ("adapter-stale", "adapter-lost")}
    return {
        a.name: frozenset(x.rpartition(".")[0] for x in a.wiring.signals())
        for a in r.show.adapters
        if a.name in lost
    }


def concerned_links(r: Recorded, s: Incident) -> list[int]:
    """Links that have an alarm in it, and those beside its first house or a house that nobody spoke for; in film order."""
    first = {s.first.subject}.union(*silenced(r, s).values())
    return [
        i
        for i, k in enumerate(r.show.links)
        if k.id in s.subjects or k.upstream in first or k.downstream in first
    ]


def _contradictions(s: Incident) -> list[str]:
    """A limit switch that says what the machines' own drift is far from."""
    found: list[str] = []
    for a in s.alarms:
        switch, drift, used = (a.values.get(k) for k in ("switch", "drift_fr", "used"))
        if not (isinstance(switch, str) and isinstance(drift, float) and isinstance(used, float)):
            continue
        toward = "spill" if drift >= 0.0 else "tight"
        if switch != toward or used < 0.75:
            found.append(
                f"On {a.subject} the {switch} switch closed while the two machines alone make the drift "
                f"{drift:+.1f} frames ({percent(used)} of the limit towards {toward}). Both can be true "
                "if the film between them is apart or off its path; or one of them is wrong. "
                "The record cannot tell which: look at the loop and the film."
            )
    return found


def _loops_before(r: Recorded, s: Incident) -> list[str]:
    i = int(np.searchsorted(r.course.at_s, s.began_s - 1.0)) - 1
    if i < 0:
        return []
    found: list[str] = []
    for k in concerned_links(r, s):
        link = r.show.links[k]
        drift, sigma, rate = (float(a[k, i]) for a in (r.course.drift, r.course.drift_sigma, r.course.rate))
        if isnan(drift):
            found.append(f"The drift of {link.id} was not known just before it.")
            continue
        used, toward = (drift / link.spill_fr, "spill") if drift >= 0 else (-drift / link.tight_fr, "tight")
        moving = (
            f", changing by {rate * 60.0:+.1f} frames a minute"
            if not isnan(rate) and abs(rate) * 60.0 >= 0.1
            else ""
        )
        found.append(
            f"Just before it, link {link.id} had a drift of {drift:+.1f} {plus_minus(2 * sigma)} frames (95 %): "
            f"{percent(used)} of its limit towards {toward}{moving}."
        )
    return found


def _time_left(s: Incident) -> list[str]:
    stop = next((a for a in s.alarms if a.code in ("run-lost", "start-late")), None)
    lost = next((a for a in s.alarms if a.code == "slack-lost"), None)
    if stop is None or lost is None or lost.true_s <= stop.true_s:
        return []
    left_s = lost.true_s - stop.true_s
    if left_s > 60.0:
        return []
    return [
        (
            f"Between {stop.name} and {lost.name} lay {left_s:.1f} s; a person who is surprised needs about "
            f"{REACTION_S} s to act (Green 2000, measured on drivers braking, not in booths)."
        )
    ]


def _speeds(s: Incident) -> list[str]:
    found = []
    for a in s.alarms:
        share, sigma, off = a.values.get("share"), a.values.get("sigma_fps"), a.values.get("off_fps")
        if a.code == "speed-off" and isinstance(share, float):
            sure = (
                f" ({off:+.4f} ± {2 * sigma:.4f} frames a second, 95 %)"
                if isinstance(off, float) and isinstance(sigma, float)
                else ""
            )
            found.append(
                f"Machine {a.subject} was first measured {100 * share:+.2f} % off the others it can be compared with{sure}."
            )
        cause = a.values.get("cause")
        if a.code == "slack-forecast" and isinstance(cause, str):
            found.append(
                f"{span(a.true_s - s.began_s)} after its beginning the forecast for {a.subject} named machine {cause} as the "
                f"one that differed from the others{_forecast(a)}."
            )
    return found


def _forecast(a: Tripped) -> str:
    rate, early, late = (a.values.get(k) for k in ("rate_fps", "to_limit_05_s", "to_limit_95_s"))
    if not (isinstance(rate, float) and isinstance(early, float) and isinstance(late, float)):
        return ""
    return (
        f": the drift changed by {60 * rate:+.1f} frames a minute, and the limit was expected between "
        f"{span(early)} and {span(late)} later (90 %)"
    )


def _apart(r: Recorded, s: Incident) -> list[str]:
    """Links whose film was taken to be apart while it went on, and by whose word."""
    found: list[str] = []
    until_s = s.last_s + AFTER_LAST_S
    own = {r.show.links[i].id for i in concerned_links(r, s)}
    told: dict[str, str] = {}
    for _, x in r.lines:
        at_s = seconds_at(x.at)
        if at_s < s.began_s or at_s > until_s:
            continue
        if isinstance(x, OperatorLine) and x.action == "parted" and x.refused is None:
            told[str(x.keys.get("link"))] = x.by or "somebody"
        elif isinstance(x, LinkLine) and x.state == "parted" and x.link in own:
            by = f"by the word of {told[x.link]}" if x.link in told else "by the film sensors"
            found.append(
                f"{span(at_s - s.began_s)} after its beginning the film of {x.link} was taken to be apart, {by}; from then on "
                "its drift is not known."
            )
    return found


def _unseen_by(r: Recorded, s: Incident) -> list[str]:
    """What an adapter that was lost would have said."""
    found: list[str] = []
    for adapter, subjects in silenced(r, s).items():
        houses = [h.id for h in r.show.houses if h.id in subjects]
        links = [k.id for k in r.show.links if k.id in subjects]
        what = [f"houses {listed(houses)}"] if houses else []
        what += [f"the switches or arms of {listed(links)}"] if links else []
        found.append(
            f"Adapter {adapter} speaks for {' and '.join(what) or 'nothing that is judged'}: while it was silent nothing "
            "of them is in the record, neither that they were well nor that they were not."
        )
    return found


def _wires(r: Recorded, s: Incident) -> list[str]:
    loose = [r.show.links[i].id for i in concerned_links(r, s) if not r.show.links[i].wired]
    if not loose or not any(a.code in ("run-lost", "slack-lost", "start-late") for a in s.alarms):
        return []
    return [f"By the show file {listed(loose)} {'has' if len(loose) == 1 else 'have'} no hard-wired stop."]


def _before(r: Recorded, s: Incident) -> list[str]:
    found: list[str] = []
    shelved: dict[tuple[str, str], str] = {}
    for _, x in r.lines:
        ago_s = s.first.raised_s - seconds_at(x.at)
        if ago_s <= 0.0:
            break
        if isinstance(x, AlarmLine):
            if x.state in ("shelved", "out-of-service"):
                shelved[x.code, x.subject] = x.state
            else:
                shelved.pop((x.code, x.subject), None)
        near = ago_s <= LOOK_BACK_S
        if (near and isinstance(x, OperatorLine) and x.action not in ("speed", "fault")) or (
            near and isinstance(x, AdapterLine) and x.state != "up"
        ):
            found.append(f"{span(ago_s)} before it: {sentence(x)}.")
    found += [
        f"The alarm {code} on {subject} was {state} at the time."
        for (code, subject), state in shelved.items()
    ]
    return found


def _switches(window: Window, s: Incident) -> list[str]:
    found = []
    for e in window.edges:
        if "switch closes" in e.text:
            away_s = e.at_s - s.began_s
            side = (
                "at" if abs(away_s) < 0.05 else f"{abs(away_s):.1f} s {'before' if away_s < 0.0 else 'after'}"
            )
            found.append(f"{e.text[:1].upper()}{e.text[1:]} {side} its beginning.")
    return found
