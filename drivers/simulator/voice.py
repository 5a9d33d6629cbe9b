"""What a simulated adapter says, as readings, and what befalls its lines on their way."""

from __future__ import annotations

from typing import Any, Literal

from drivers.simulator.chance import stream
from drivers.simulator.room import Room
from drivers.simulator.sensors import TICK_S, Arm, Counter
from interlock.signals import AdapterSpec, Contacts, Counts, Positions, Presence, Reading

PRESENCE_S = 10.0
QUICK_S, LATE_SHARE, LATE_S = 0.003, 0.01, 0.04
"""A line takes 1 to 4 ms; one in a hundred up to 40 ms more (USB, the operating system)."""


class Voice:
    """The values of an adapter's inputs, and the lines that it says of them. Desk second = ``base_s`` + plan time."""

    def __init__(self, spec: AdapterSpec, room: Room, base_s: float) -> None:
        self.spec, self.name, self.base_s = spec, spec.name, base_s
        wiring = spec.wiring
        self.signals = [s.removeprefix("!") for _, s in sorted(wiring.levels.items())]
        self.values = [s.endswith(".film") for s in self.signals]  # threaded: film lies at every sensor
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
        self.rng = stream(room.seed, "adapter", spec.name)
        self._chance = self.rng.random
        self.bad_rng = stream(room.seed, "line", spec.name)
        self.silent_until_s = self.presence_at_s = self._last_at_s = self._fact_s = room.now_s
        self.dropped = self.damaged = self.doubled = self.delayed = 0.0
        self.delay_s = self.jitter_s = 0.0
        self.awkward = False
        """Any of the above: otherwise a line is told without a further thought."""
        self._missing = False
        self.lines = self.bad_lines = self.lost_lines = 0
        self._told_bad = 0

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
