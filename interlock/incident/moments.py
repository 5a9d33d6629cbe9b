"""The time line of an incident: readings, alarms, cues and what people did, in one order."""

from __future__ import annotations

from typing import Literal

import msgspec

from interlock.incident.incidents import Incident
from interlock.incident.recorded import Recorded, seconds_at
from interlock.incident.window import Window
from interlock.sentences import sentence
from interlock.watch.state import AlarmLine, HouseLine, Line, LinkLine

MOST = 150
WORDS = (
    "Of alarms: gone, its condition is over; not acknowledged, nobody has told the desk that it was seen; held, it stays "
    "until it is reset; suppressed, a graver alarm says the same; normal, over and seen."
)
"""What the states in the time line mean."""
LATE_S = 0.5
"""A reading heard so much later than it was true says so."""

Sort = Literal["reading", "alarm", "cue", "operator", "show", "house", "link", "adapter"]


class Moment(msgspec.Struct, frozen=True):
    """One row. ``after_s``: seconds after the incident began. ``at_s``: UTC seconds."""

    at_s: float
    after_s: float
    kind: Sort
    text: str
    first_out: bool = False


def moments(
    r: Recorded, window: Window, from_s: float, to_s: float, s: Incident
) -> tuple[tuple[Moment, ...], int]:
    """(the rows, how many more there were). Rows of the incident itself are never among those left out."""
    rows = [
        Moment(
            e.at_s,
            e.at_s - s.began_s,
            "reading",
            e.text + (f" (heard {e.heard_s:.1f} s later)" if e.heard_s >= LATE_S else ""),
        )
        for e in window.edges
    ]
    advised: set[str] = set()
    own = {(a.code, a.subject) for a in s.alarms}
    numbers = {(a.code, a.subject, a.raised_s): n for n, a in enumerate(s.alarms, 1)}
    end_s = max((t for a in s.alarms for t in (a.gone_s, a.acknowledged_s) if t is not None), default=to_s)
    for _, x in r.lines:
        at_s = seconds_at(x.at)
        if at_s < from_s:
            continue
        if at_s > max(to_s, end_s):
            break
        inside = at_s <= to_s
        mine = isinstance(x, AlarmLine) and (x.code, x.subject) in own
        if not inside and not mine and x.__struct_config__.tag not in ("operator", "show"):
            continue
        words = _words(x)
        if words is not None and isinstance(x, AlarmLine) and x.state == "unacknowledged":
            # What to do is said in full the first time; the same words again only hide what is new.
            if x.text in advised:
                words = words.removesuffix(x.text) + "(to do: as above)"
            advised.add(x.text)
            number = numbers.get((x.code, x.subject, at_s))
            words = words if number is None else f"{number}. {words}"
        if words is not None:
            first = isinstance(x, AlarmLine) and x.first_out and x.state == "unacknowledged"
            rows.append(Moment(at_s, at_s - s.began_s, str(x.__struct_config__.tag), words, first))  # type: ignore[arg-type]
    rows.sort(key=lambda m: m.at_s)
    if len(rows) <= MOST:
        return tuple(rows), 0
    # What is nearest to the beginning of the incident says most.
    near = sorted(rows, key=lambda m: abs(m.after_s))[:MOST]
    return tuple(sorted(near, key=lambda m: m.at_s)), len(rows) - MOST


def _words(x: Line) -> str | None:
    if isinstance(x, HouseLine):
        return None  # the readings say it, with the time at which it was true
    if isinstance(x, LinkLine) and x.state in ("threaded", "running"):
        return None
    return sentence(x)
