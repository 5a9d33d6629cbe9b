"""One adapter of the room: it debounces, and says a line by the rhythm of wire.md.

What happens to it (contacts, pulses, faults) is true at a plan time; what it says is made later, arrives later still, and in
order. It sees the room only as it was at the time of each line, so its lines are the same however far the room is ahead.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Callable
from itertools import count
from math import floor
from typing import Any

from drivers.simulator.room import Room
from drivers.simulator.sensors import TICK_S
from drivers.simulator.voice import Voice
from interlock.signals import AdapterSpec, Reading

COUNTS_S = 0.1
LEVELS_S = 0.24
"""wire.md wants levels at least every 250 ms; a little is kept for what waits for a debounce."""
DEBOUNCE_S = 0.005
BOUNCE_S = 0.003
SOON_S = 0.002
RESTART_S = 0.4


class Adapter(Voice):
    """Emulates the adapter ``spec``, whatever its driver in the show. Desk second = ``base_s`` + plan time."""

    def __init__(self, spec: AdapterSpec, room: Room, base_s: float) -> None:
        super().__init__(spec, room, base_s)
        self.strike_restarts = room.scenario.restart_on_strike
        self.at_signal = {s: i for i, s in enumerate(self.signals)}
        self.true = list(self.values)
        self.houses = {s.split(".")[0] for s in spec.wiring.signals()}
        begin_s = self.born_s = room.now_s
        self.counts_at_s = begin_s + floor(self.rng.uniform(0.02, 0.12) * 1000) * TICK_S
        self.levels_at_s = begin_s + floor(self.rng.uniform(0.02, 0.2) * 1000) * TICK_S
        self._todo: list[tuple[float, int, Callable[..., None], Any]] = []
        self._order = count()
        self._edges: deque[tuple[float, float, int, bool]] = deque()
        self._edge_s: dict[int, float] = {}
        self.chatters: dict[int, float] = {}
        self.stuck: dict[int, bool] = {}
        self.on_strike = self._anew = False
        self.later(begin_s, lambda t_s, _, out: self.say_presence(t_s, "up", out))

    # What happens to it.

    def later(self, t_s: float, do: Callable[..., None], what: Any = None) -> None:
        """``do(t, what, out)`` at ``t_s``, in the order of times."""
        heapq.heappush(self._todo, (t_s, next(self._order), do, what))

    def feel(self, t_s: float, signal: str, value: bool) -> None:
        """A contact moves."""
        if signal in self.at_signal:
            self.later(t_s, self._moves, (self.at_signal[signal], value))

    def struck(self, t_s: float, house: str) -> None:
        """An igniter fires in one of its houses."""
        if house in self.houses:
            self.later(t_s, self._struck)

    def _moves(self, t_s: float, what: tuple[int, bool], out: list[Reading]) -> None:
        i, value = what
        self.true[i] = value
        if self.chatters.get(i, t_s) <= t_s:
            self.edge(t_s, i, value)

    def edge(self, t_s: float, i: int, value: bool) -> None:
        """An input changes, bounces, and is believed when it has been still for a while."""
        told_s = t_s + DEBOUNCE_S + self.rng.random() * (BOUNCE_S + SOON_S)
        if self._edges and told_s <= self._edges[-1][0]:
            told_s = self._edges[-1][0] + 1e-4
        self._edges.append((told_s, t_s, i, value))

    def _struck(self, t_s: float, _: None, out: list[Reading]) -> None:
        if self.on_strike or (self.strike_restarts and self.bad_rng.random() < self.strike_restarts):
            self.on_strike = False
            self.restart(t_s, RESTART_S)

    def restart(self, t_s: float, for_s: float) -> None:
        """It begins anew, and is back after ``for_s``."""
        self.silent_until_s = max(self.silent_until_s, t_s + for_s)
        self.later(t_s + for_s, self._reborn)

    def _reborn(self, t_s: float, _: None, out: list[Reading]) -> None:
        self.born_s = t_s
        self._anew = True
        for c in self.counters:
            c.restart(t_s)
        self.back(t_s, out)

    def back(self, t_s: float, out: list[Reading]) -> None:
        """After a silence: who it is, then its present state at once."""
        if t_s < self.silent_until_s:
            return
        self.say_presence(t_s, "restarted" if self._anew else "up", out)
        self._anew = False
        self._missing = True  # what it said meanwhile was not heard
        self.say_contacts(t_s, t_s, out)
        self.say_counts(t_s, out)
        self.say_arms(t_s, out)

    # What it says.

    def run(self, to_s: float, out: list[Reading]) -> None:
        """Everything that it says up to ``to_s``, as readings in ``out``; the room has been advanced so far."""
        todo, edges = self._todo, self._edges
        while True:
            t_s = self.counts_at_s if self.counts_at_s < self.levels_at_s else self.levels_at_s
            if todo and todo[0][0] <= t_s and (not edges or todo[0][0] <= edges[0][0]):
                if todo[0][0] > to_s:
                    return
                at_s, _, do, what = heapq.heappop(todo)
                do(at_s, what, out)
            elif edges and edges[0][0] <= t_s:
                if edges[0][0] > to_s:
                    return
                self._believe(*edges.popleft(), out)
            elif t_s > to_s:
                return
            elif t_s == self.counts_at_s:
                self.counts_at_s = t_s + COUNTS_S
                if self.counters:
                    self.say_counts(t_s, out)
                if self.arms:
                    self.say_arms(t_s, out)
            else:
                self._levels(t_s, out)

    def _levels(self, t_s: float, out: list[Reading]) -> None:
        if self._edges:  # what it does not yet believe would be denied by a line of now
            self.levels_at_s = self._edges[-1][0] + TICK_S
            return
        self.levels_at_s = t_s + LEVELS_S
        if t_s >= self.presence_at_s or self.bad_lines + self.lost_lines != self._told_bad:
            self.say_presence(t_s, "up", out)
        if self.signals:
            self.say_contacts(t_s, t_s, out)

    def _believe(self, told_s: float, t_s: float, i: int, value: bool, out: list[Reading]) -> None:
        value = self.stuck.get(i, value)
        if self.values[i] is not value:
            self.values[i] = value
            self.state = tuple(zip(self.signals, self.values, strict=True))
            # What is debounced does not change twice in one tick.
            self._edge_s[i] = max(floor(t_s / TICK_S) * TICK_S, self._edge_s.get(i, t_s - 1.0) + TICK_S)
            self.say_contacts(told_s, self._edge_s[i], out)
