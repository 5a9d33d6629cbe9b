"""How the alarm system itself behaved over a show, against the targets of ISA-18.2 (reference.md).

Average rate, floods, chattering and fleeting alarms, standing ones, and the share of each priority. Pure: lines in, figures out.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from datetime import datetime

import msgspec

from interlock.watch.flood import WINDOW_S, FloodWatch
from interlock.watch.state import AlarmLine, Line

CHATTER_TIMES, CHATTER_S = 3, 60.0
"""An alarm that trips three times within a minute chatters (common practice)."""
FLEETING_S = 2.0
"""An alarm that goes within this of coming, with nobody's doing, is fleeting (common practice)."""
STANDING_S = 600.0
"""An alarm that has been active longer than this stands (common practice at the length of a show)."""


class Flood(msgspec.Struct, frozen=True):
    """A stretch in which more came than anybody can work through. Seconds after the first line; ``alarms`` within it."""

    start_s: float
    end_s: float
    alarms: int


class Measures(msgspec.Struct, frozen=True):
    """Figures over one show. ``share`` of each priority sums to 1 (empty with no alarm)."""

    alarms: int
    per_10_min: float
    most_in_10_min: int
    floods: tuple[Flood, ...]
    chattering: tuple[tuple[str, str], ...]
    fleeting: int
    standing: tuple[tuple[str, str], ...]
    share: dict[str, float]


def _seconds(line: Line) -> float:
    return datetime.fromisoformat(line.at).timestamp()


def measure(lines: Iterable[Line], until_s: float | None = None) -> Measures:
    """Measures of the alarm lines among ``lines`` (in their order). ``until_s``: length of the show if it is longer."""
    first: float | None = None
    last = 0.0
    trips: list[tuple[float, tuple[str, str]]] = []
    counts: dict[str, int] = {}
    since: dict[tuple[str, str], float] = {}
    fleeting = 0
    standing: dict[tuple[str, str], None] = {}
    for line in lines:
        t = _seconds(line)
        first = t if first is None else first
        last = t - first
        if not isinstance(line, AlarmLine):
            continue
        key = (line.code, line.subject)
        if line.active and key not in since:
            since[key] = last
            if line.state == "unacknowledged":
                trips.append((last, key))
                counts[line.priority] = counts.get(line.priority, 0) + 1
        elif not line.active and key in since:
            stood_s = last - since.pop(key)
            fleeting += stood_s < FLEETING_S
            if stood_s > STANDING_S:
                standing[key] = None
    length_s = max(last, until_s or 0.0)
    for key, start_s in since.items():
        if length_s - start_s > STANDING_S:
            standing[key] = None
    times = [t for t, _ in trips]
    return Measures(
        alarms=len(trips),
        per_10_min=len(trips) / (length_s / WINDOW_S) if length_s > 0.0 else 0.0,
        most_in_10_min=_most(times),
        floods=tuple(_floods(times, length_s)),
        chattering=tuple(_chattering(trips)),
        fleeting=fleeting,
        standing=tuple(standing),
        share={p: n / len(trips) for p, n in sorted(counts.items())},
    )


def _most(times: list[float]) -> int:
    window: deque[float] = deque()
    most = 0
    for t in times:
        window.append(t)
        while t - window[0] > WINDOW_S:
            window.popleft()
        most = max(most, len(window))
    return most


def _floods(times: list[float], length_s: float) -> list[Flood]:
    """Stretches from the first of the alarms that make it more than ten in ten minutes until fewer than five are."""
    watch = FloodWatch()
    found = [watch.came(t) for t in times]
    return [Flood(f.start_s, min(f.end_s, length_s), f.alarms) for f in (*found, watch.last) if f is not None]


def _chattering(trips: list[tuple[float, tuple[str, str]]]) -> list[tuple[str, str]]:
    recent: dict[tuple[str, str], deque[float]] = {}
    found: dict[tuple[str, str], None] = {}
    for t, key in trips:
        times = recent.setdefault(key, deque(maxlen=CHATTER_TIMES))
        times.append(t)
        if len(times) == CHATTER_TIMES and t - times[0] <= CHATTER_S:
            found[key] = None
    return list(found)
