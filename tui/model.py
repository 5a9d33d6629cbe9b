"""What a screen knows: the newest state, what happened, how long the desk has been silent. No terminal, no clock of its own."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeVar

import msgspec

from interlock.watch.state import (
    AdapterLine,
    AlarmLine,
    ErrorLine,
    Farewell,
    Frame,
    Happened,
    Hello,
    HouseLine,
    Layout,
    Line,
    LinkLine,
    OperatorLine,
    ShowLine,
    State,
)
from tui.draw.banner import LOST_S
from tui.draw.view import ASKING, key_of

LOG_LINES = 20_000
HISTORY = 1_200
"""Points of drift kept for each link, one a second of show: twenty minutes."""
_URGENCY = {"high": 0, "medium": 1, "low": 2}


@dataclass
class Model:
    """Folds frames. ``heard_s``: desk seconds of this screen's clock at the last frame."""

    layout: Layout | None = None
    state: State | None = None
    heard_s: float = 0.0
    state_s: float = 0.0
    """When the newest state came."""
    farewell: str | None = None
    ended: bool = False
    """No frame will come any more: the desk has ended."""
    log: deque[Line] = field(default_factory=lambda: deque(maxlen=LOG_LINES))
    drifts: dict[str, deque[tuple[float, float | None, float | None]]] = field(default_factory=dict)
    """Of each link: (show second, drift, sigma), a point a second, None where not known."""
    disarmed: bool = False
    """Whoever armed or disarmed the desk last disarmed it."""
    answer: str = ""
    """The last thing that the desk said to an action, in words."""
    _newer: dict[tuple[str, ...], Line] = field(default_factory=dict)

    def take(self, frame: Frame, now_s: float) -> bool:
        """Fold a frame; True if a person must be called: a new high alarm."""
        self.heard_s = now_s
        if isinstance(frame, Hello):
            if self.layout is None or self.layout != frame.layout:
                self.drifts.clear()
            self.layout = frame.layout
            self._past(frame.past)
            self._new_state(frame.state, now_s)
            self.farewell = None
        elif isinstance(frame, Farewell):
            self.farewell = frame.reason or "the desk has ended"
        elif isinstance(frame, Happened):
            return self._line(frame.line)
        else:
            self._new_state(frame.state, now_s)
        return False

    def _past(self, past: Iterable[Line]) -> None:
        """What happened before this screen came, or while it was away; what it has already stays as it is."""
        have = {_name(line) for line in self.log}
        for line in past:
            if _name(line) not in have:
                self.log.append(line)
                self._armed(line)

    def _armed(self, line: Line) -> None:
        if isinstance(line, OperatorLine) and line.action in ("arm", "disarm") and line.refused is None:
            self.disarmed = line.action == "disarm"

    def _new_state(self, state: State, now_s: float) -> None:
        self.state = state
        self.state_s = now_s
        self._newer = {k: line for k, line in self._newer.items() if line.seq > state.seq}
        if state.show_s is None:
            return
        for link in state.links:
            points = self.drifts.setdefault(link.link, deque(maxlen=HISTORY))
            if not points or state.show_s >= points[-1][0] + 1 or state.show_s < points[-1][0]:
                points.append((state.show_s, link.drift_fr, link.sigma_fr))

    def _line(self, line: Line) -> bool:
        if isinstance(line, ErrorLine):
            self.answer = f"refused: {line.text}"
        elif isinstance(line, OperatorLine) and line.refused is not None:
            self.answer = f"{line.action} refused: {line.refused}"
        if isinstance(line, HouseLine | LinkLine | AdapterLine) and line.periodic:
            return False
        self.log.append(line)
        self._armed(line)
        if self.state is None or line.seq <= self.state.seq:
            return False
        if isinstance(line, ShowLine):
            self._newer[("show",)] = line
        elif isinstance(line, HouseLine):
            self._newer[("house", line.house)] = line
        elif isinstance(line, LinkLine):
            self._newer[("link", line.link)] = line
        elif isinstance(line, AlarmLine):
            self._newer[("alarm", line.code, line.subject)] = line
            return line.priority == "high" and line.state == "unacknowledged"
        return False

    def newest(self) -> State | None:
        """The newest state with the lines that came after it laid over: an alarm is shown at once, not at the next state."""
        state = self.state
        if state is None or not self._newer:
            return state
        newer = self._newer
        show = newer.get(("show",))
        return msgspec.structs.replace(
            state,
            phase=show.phase if isinstance(show, ShowLine) else state.phase,
            houses=tuple(_over(newer.get(("house", h.house)), h) for h in state.houses),
            links=tuple(_over(newer.get(("link", link.link)), link) for link in state.links),
            alarms=_alarms(state.alarms, [a for a in newer.values() if isinstance(a, AlarmLine)]),
        )

    def lost_s(self, now_s: float) -> float | None:
        """Seconds since the last frame if the desk is not heard, else None."""
        silent_s = max(0.0, now_s - self.heard_s)
        return silent_s if self.farewell is not None or silent_s > LOST_S else None

    def age_s(self, now_s: float) -> float | None:
        """Age of the newest reading, the time since the newest state came included."""
        if self.state is None or self.state.age_s is None:
            return None
        return self.state.age_s + max(0.0, now_s - self.state_s)

    def asks_bell(self) -> bool:
        """Whether a high alarm stands that nobody has acknowledged, and the bell is not silenced."""
        state = self.newest()
        return state is not None and not state.silenced and any(
            a.priority == "high" and a.state in ASKING for a in state.alarms
        )  # fmt: skip


def _name(line: Line) -> tuple[str, int, str]:
    return type(line).__name__, line.seq, line.at


_L = TypeVar("_L", HouseLine, LinkLine)


def _over(line: Line | None, old: _L) -> _L:
    return line if isinstance(line, type(old)) else old


def _alarms(old: Iterable[AlarmLine], newer: list[AlarmLine]) -> tuple[AlarmLine, ...]:
    if not newer:
        return tuple(old)
    keys = {key_of(a) for a in newer}
    fresh = sorted((a for a in newer if a.state != "normal"), key=lambda a: -a.seq)
    both = [*fresh, *(a for a in old if key_of(a) not in keys)]
    aside = ("shelved", "suppressed", "out-of-service")
    return tuple(sorted(both, key=lambda a: (a.state in aside, _URGENCY[a.priority], not a.first_out)))
