"""What happened in a rehearsal, in ten lines for a person."""

from __future__ import annotations

from collections import Counter

from interlock.sentences import sentence, when
from interlock.showfile.show import Show
from interlock.watch.state import AlarmLine, CueLine, HouseLine, Line, LinkLine, ShowLine

TOLD = 4
"""Alarms that are told one by one."""


class Summary:
    """Takes every line, keeps what a person asks afterwards."""

    def __init__(self, show: Show, seed: int, scenario: str) -> None:
        self._show = show
        self._seed = seed
        self._scenario = scenario
        self._phases: dict[str, ShowLine] = {}
        self._last: Line | None = None
        self._lines = 0
        self._alarms: list[AlarmLine] = []
        self._priorities: Counter[str] = Counter()
        self._cues: Counter[str] = Counter()
        self._pictures: dict[str, HouseLine] = {}
        self._widest: LinkLine | None = None
        self._most = 0.0

    def take(self, line: Line) -> None:
        """One line of the desk."""
        self._lines += 1
        self._last = line
        if isinstance(line, ShowLine):
            self._phases[line.phase] = line
        elif isinstance(line, AlarmLine) and line.state == "unacknowledged":
            self._alarms.append(line)
            self._priorities[line.priority] += 1
        elif isinstance(line, CueLine):
            self._cues[line.state] += 1
        elif isinstance(line, HouseLine) and line.phase == "picture":
            self._pictures.setdefault(line.house, line)
        elif isinstance(line, LinkLine) and (line.used or 0.0) > self._most:
            self._widest, self._most = line, line.used or 0.0

    def text(self, took_s: float) -> str:
        """Ten lines at most; ``took_s``: how long the rehearsal took in life."""
        show = self._show
        chain = " ".join(h.id for h in show.houses)
        told = [f"  {when(a)}  {sentence(a)}" for a in self._alarms[:TOLD]]
        more = len(self._alarms) - TOLD
        cues = f"{self._cues['done']} done, {self._cues['missed']} missed"
        scenario = f'scenario "{self._scenario}"' if self._scenario else "no faults"
        rows = [
            f'Rehearsed "{show.title}" on simulated machines: houses {chain} in film order, {scenario}, seed {self._seed}.',
            f"Start: {self._start()}",
            f"Picture: {self._picture()}",
            f"Closest link: {self._closest()}",
            f"Alarms: {len(self._alarms)} ({', '.join(f'{self._priorities[p]} {p}' for p in ('high', 'medium', 'low'))})"
            + (f", the first {TOLD} of them:" if more > 0 else ":" if told else "."),
            *told,
            f"Cues: {cues}. {self._end()} {self._lines:,} lines in {took_s:.1f} s.",
        ]
        return "\n".join(rows)

    def _start(self) -> str:
        first, running = self._phases.get("starting"), self._phases.get("running")
        if first is None:
            return "no motor turned."
        if running is None or running.show_s is None:
            return "the motors started, and never all ran at speed."
        return f"all motors at speed {running.show_s:.1f} s after the first one turned."

    def _picture(self) -> str:
        if not self._pictures:
            return "none."
        return "first in " + ", ".join(f"{h} at {when(line)}" for h, line in self._pictures.items()) + "."

    def _closest(self) -> str:
        w = self._widest
        if w is None or w.used is None or w.drift_fr is None:
            return "no drift was known."
        return (
            f"{w.link}, {w.drift_fr:+.1f} frames towards {w.toward}: {w.used:.0%} of its limit, at {when(w)}."
        )

    def _end(self) -> str:
        ended = self._phases.get("ended")
        if ended is not None:
            return f"The show ended at {when(ended)}."
        return f"It was left at {when(self._last)}." if self._last is not None else "Nothing was said."
