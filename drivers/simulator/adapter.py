"""One adapter of the room: it debounces, counts, and says a line by the rhythm of wire.md; here as readings.

What happens to it (contacts, pulses, faults) is true at a plan time; what it says is made later, arrives later still, and in
order. It sees the room only as it was at the time of each line, so its lines are the same however far the room is ahead.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Callable
from itertools import count
from math import floor
from typing import Any, Literal

from drivers.simulator.chance import stream
from drivers.simulator.room import Room
from drivers.simulator.sensors import TICK_S, Arm, Counter
from interlock.signals import AdapterSpec, Contacts, Counts, Positions, Presence, Reading

COUNTS_S = 0.1
LEVELS_S = 0.24
"""wire.md wants levels at least every 250 ms; a little is kept for what waits for a debounce."""
DEBOUNCE_S = 0.005
BOUNCE_S = 0.003
SOON_S = 0.002
RESTART_S = 0.4
PRESENCE_S = 10.0
QUICK_S, LATE_SHARE, LATE_S = 0.003, 0.01, 0.04
"""A line takes 1 to 4 ms; one in a hundred up to 40 ms more (USB, the operating system)."""


class Adapter:
    """Emulates the adapter ``spec``, whatever its driver in the show. Desk second = ``base_s`` + plan time."""

    def __init__(self, spec: AdapterSpec, room: Room, base_s: float) -> None:
        self.spec, self.name, self.base_s = spec, spec.name, base_s
        self.strike_restarts = room.scenario.restart_on_strike
        wiring = spec.wiring
        self.signals = [s.removeprefix("!") for _, s in sorted(wiring.levels.items())]
        self.at_signal = {s: i for i, s in enumerate(self.signals)}
        self.true = [s.endswith(".film") for s in self.signals]  # threaded: film lies at every sensor
        self.values = list(self.true)
        self.state = tuple(zip(self.signals, self.values, strict=True))
        house = {f"{m.house}.frames": m.motion for m in room.machines}
        loops = {f"{p.id}.arm": p for p in room.loops}
        self.counters = [
            Counter(w, house[w.signal], base_s)
            for _, w in sorted(wiring.counters.items())
            if w.signal in house
        ]
        self.arms = [
            Arm(w, loops[w.signal], stream(room.seed, "arm", w.signal))
            for _, w in sorted(wiring.analogs.items())
            if w.signal in loops
        ]
        self._counts, self._positions = [c.read for c in self.counters], [a.read for a in self.arms]
        self.houses = {s.split(".")[0] for s in wiring.signals()}
        self.rng = stream(room.seed, "adapter", spec.name)
        self._chance = self.rng.random
        self.bad_rng = stream(room.seed, "line", spec.name)
        begin_s = self.born_s = room.now_s
        self.counts_at_s = begin_s + floor(self.rng.uniform(0.02, 0.12) * 1000) * TICK_S
        self.levels_at_s = begin_s + floor(self.rng.uniform(0.02, 0.2) * 1000) * TICK_S
        self._todo: list[tuple[float, int, Callable[..., None], Any]] = []
        self._order = count()
        self._edges: deque[tuple[float, float, int, bool]] = deque()
        self._edge_s: dict[int, float] = {}
        self.presence_at_s = self._last_at_s = self._fact_s = begin_s
        self.silent_until_s = begin_s
        self.chatters: dict[int, float] = {}
        self.stuck: dict[int, bool] = {}
        self.on_strike = self._anew = False
        self.dropped = self.damaged = self.doubled = self.delayed = 0.0
        self.delay_s = self.jitter_s = 0.0
        self.awkward = False
        """Any of the above: otherwise a line is told without a further thought."""
        self._missing = False
        self.lines = self.bad_lines = self.lost_lines = 0
        self._told_bad = 0
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

    def arrival(self, t_s: float) -> float:
        """When a line said at ``t_s`` comes in; never before one that was said earlier."""
        u = self._chance()
        at_s = t_s + TICK_S + QUICK_S * u
        if u > 1.0 - LATE_SHARE:
            at_s += (u - 1.0 + LATE_SHARE) * (LATE_S / LATE_SHARE)
        if self.jitter_s:
            at_s += self.bad_rng.random() * self.jitter_s
        if at_s <= self._last_at_s:
            at_s = self._last_at_s + 1e-5
        self._last_at_s = at_s
        return at_s

    def say_counts(self, t_s: float, out: list[Reading]) -> None:
        """A ``CT`` line."""
        values = tuple([read(t_s) for read in self._counts])
        if values and t_s >= self.silent_until_s:
            self._tell(Counts, t_s, t_s, values, out)

    def say_contacts(self, t_s: float, fact_s: float, out: list[Reading]) -> None:
        """An ``LV`` line."""
        if t_s >= self.silent_until_s:
            # A fact is never told to be older than what was told before it: one line is one moment.
            self._fact_s = fact_s = max(fact_s, min(self._fact_s, t_s))
            missing, self._missing = self._missing, False
            self._tell(Contacts, t_s, fact_s, self.state, out, missing)

    def say_arms(self, t_s: float, out: list[Reading]) -> None:
        """An ``AN`` line."""
        values = tuple([read(t_s) for read in self._positions])
        if values and t_s >= self.silent_until_s:
            self._tell(Positions, t_s, t_s, values, out)

    def say_presence(
        self, t_s: float, state: Literal["up", "gone", "restarted"], out: list[Reading], text: str = ""
    ) -> None:
        """How its line is."""
        if state == "gone" or t_s >= self.silent_until_s:
            self.presence_at_s = t_s + PRESENCE_S
            self._told_bad = self.bad_lines + self.lost_lines
            at_s = self.base_s + self.arrival(t_s)
            out.append(
                Presence(at_s, at_s, self.name, state, self.lines, self.bad_lines, self.lost_lines, text)
            )

    def _tell(
        self, kind: Any, t_s: float, fact_s: float, values: Any, out: list[Reading], *more: bool
    ) -> None:
        at_s = self.base_s + self.arrival(t_s)
        if self.awkward:
            at_s = self._spoil(kind, at_s, fact_s, values, out, *more)
            if at_s < 0:
                return
        self.lines += 1
        out.append(kind(at_s, self.base_s + fact_s, self.name, values, *more))

    def _spoil(
        self, kind: Any, at_s: float, fact_s: float, values: Any, out: list[Reading], *more: bool
    ) -> float:
        """What the way does to a line: when it comes in; negative if it does not."""
        chance = self.bad_rng.random
        if self.dropped and chance() < self.dropped:
            self.lost_lines += 1
            self._missing = True
            return -1.0
        if self.damaged and chance() < self.damaged:
            self.bad_lines += 1
            self.lost_lines += 1
            self._missing = True
            return -1.0
        if self.delayed and chance() < self.delayed:
            at_s += chance() * self.delay_s
            self._missing = True  # for whoever hears the next line before it
        if self.doubled and chance() < self.doubled:
            self.lines += 1
            out.append(kind(at_s + 0.001 + 0.05 * chance(), self.base_s + fact_s, self.name, values, *more))
        return at_s
