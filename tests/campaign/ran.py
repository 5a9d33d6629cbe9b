"""How the machines truly ran, and when the desk could hear of it: what the oracles of speed and of sight ask."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator
from functools import cached_property

from drivers.simulator.machine import Machine
from interlock.watch.state import AdapterLine, AlarmLine, LinkLine
from tests.campaign.beside import Beside

RAMP_SPREAD_S = 0.25
"""Five sigmas of a ramp."""
BACK_S = 3.0
SETTLING_S = 12.0
"""So long after an adapter has come back its dates may move, and no speed need be judged by them."""
"""So long after an adapter is heard again its counters have told a speed again."""
WATCHED = ("running", "running-out")
"""Phases in which every alarm can trip."""

Span = tuple[float, float]


class Ran:
    """Machines are numbered in film order. All times are plan times.

    ``alarms``: every line of one. ``trips``: code → the lines at which it tripped. ``links``: link → its lines of once a
    second. ``away``: house → when its adapter was not heard, or not yet long again. ``lies``: house → from when on its
    counter is dead or its motor's contact does not tell the truth. ``held_s``: so late any line may come. ``active``:
    (code, subject) → when that alarm's condition held.
    """

    def __init__(self, beside: Beside) -> None:
        self.b = beside
        self.show = beside.run.show
        self.faults = beside.run.scenario.faults
        self.machines: list[Machine] = beside.room.machines
        self.at = {m.house: k for k, m in enumerate(self.machines)}
        self.held_s = max((f.by_s for f in self.faults if f.kind == "jitter"), default=0.0)
        self.links: dict[str, list[tuple[float, LinkLine]]] = {k: [] for k in beside.links}
        self.alarms: list[AlarmLine] = []
        self.trips: dict[str, list[tuple[float, AlarmLine]]] = {}
        self.active: dict[tuple[str, str], list[Span]] = {}
        self._away: dict[str, list[Span]] = {a.name: [] for a in self.show.adapters}
        self._read_lines()
        self.counted: set[str] = set()
        self.away: dict[str, list[Span]] = {}
        self._read_wiring()
        self.lies: dict[str, float] = {}
        for f in self.faults:
            if f.at_s is None:
                continue
            if f.kind == "dead-counter":
                self.lies[f.house] = min(self.lies.get(f.house, math.inf), f.at_s)
            elif f.kind in ("stuck-contact", "chatter") and f.signal.endswith(".run"):
                house = f.signal.removesuffix(".run")
                self.lies[house] = min(self.lies.get(house, math.inf), f.at_s)

    def _read_lines(self) -> None:
        begun: dict[tuple[str, str], float] = {}
        zero_s = self.b.zero_plan_s or 0.0
        links = self.links
        for x in self.b.run.lines:
            if isinstance(x, AlarmLine):
                self.alarms.append(x)
            if x.show_s is None:
                continue
            if isinstance(x, LinkLine):
                if x.periodic:
                    links[x.link].append((x.show_s + zero_s, x))
            elif isinstance(x, AlarmLine):
                key, t_s = (x.code, x.subject), x.show_s + zero_s
                if x.active and key not in begun:
                    begun[key] = t_s
                    self.trips.setdefault(x.code, []).append((t_s, x))
                elif not x.active and key in begun:
                    self.active.setdefault(key, []).append((begun.pop(key), t_s))
            elif isinstance(x, AdapterLine) and x.state in ("stale", "lost", "restarted"):
                t_s = x.show_s + zero_s
                self._away[x.adapter].append((t_s - 1.0, t_s + BACK_S))
        for key, t_s in begun.items():
            self.active.setdefault(key, []).append((t_s, math.inf))

    def _read_wiring(self) -> None:
        for f in self.faults:
            if f.kind in ("silence", "unplug", "restart") and f.at_s is not None:
                self._away[f.adapter].append((f.at_s, f.at_s + f.for_s + BACK_S))
        for a in self.show.adapters:
            for signal in a.wiring.signals():
                house, _, what = signal.partition(".")
                if what == "frames":
                    self.counted.add(house)
                if what in ("frames", "run"):
                    self.away.setdefault(house, []).extend(self._away[a.name])

    # What was said, and what could be heard.

    def was_active(self, code: str, subject: str, from_s: float, to_s: float) -> bool:
        """Whether that alarm's condition held at any time in between."""
        return any(a <= to_s and from_s < b for a, b in self.active.get((code, subject), ()))

    def heard(self, house: str, from_s: float, to_s: float) -> bool:
        """Whether its adapter was heard all that time, and told the truth."""
        if self.lies.get(house, math.inf) < to_s:
            return False
        return not any(a < to_s and from_s < b for a, b in self.away.get(house, ()))

    def lied(self, houses: list[str], t_s: float) -> bool:
        """Whether what one of them says had begun to be no longer true."""
        return any(self.lies.get(h, math.inf) < t_s for h in houses)

    def watched(self, *times_s: float) -> bool:
        """Whether at all of these every alarm could trip."""
        return all(self.b.phase_at(t) in WATCHED for t in times_s)

    # Truth.

    def on_since(self, k: int, t_s: float) -> float | None:
        """When machine ``k``'s motor was switched on, if it had current at ``t_s``."""
        switched = self.machines[k].switched
        n = bisect_right(switched, t_s)
        return switched[n - 1] if n % 2 else None

    def steady_since(self, k: int, t_s: float) -> float | None:
        """From when on it was surely at speed, if its motor had current at ``t_s``."""
        on_s = self.on_since(k, t_s)
        return None if on_s is None else on_s + self.show.houses[k].ramp_s + RAMP_SPREAD_S

    def to_run_fr(self, k: int, t_s: float) -> float:
        """Frames of film that its machine has surely still to run, whatever the survey says."""
        survey_fr = 0.04 * self.show.first_picture_at_fr[k] + 30.0
        return self.show.length_fr - self.machines[k].print_frame(t_s) - survey_fr

    @cached_property
    def peers(self) -> list[list[int]]:
        """Machine → the counted ones that keep time by the same: crystals by themselves, the others by their supply."""
        houses = self.show.houses
        keep = [h.motor if h.motor == "crystal" else h.supply for h in houses]
        return [
            [n for n, h in enumerate(houses) if n != k and keep[n] == keep[k] and h.id in self.counted]
            for k in range(len(houses))
        ]

    def rate_spells(self, i: int) -> Iterator[tuple[float, float, float]]:
        """(from, to, fps): when both machines of link ``i`` ran at speeds that did not change against each other."""
        up, down = self.machines[i].motion.pieces, self.machines[i + 1].motion.pieces
        m = n = 0
        from_s, rate = math.inf, math.nan
        ends_s = min(self.b.ended_s(i), self.b.room.now_s)
        while m < len(up) and n < len(down):
            t_s = max(up[m][0], down[n][0])
            if t_s >= ends_s:
                break
            _, _, u, ua = up[m]
            _, _, d, da = down[n]
            steady = ua == da == 0.0 and u > 0.0 and d > 0.0
            if not steady or not abs(u - d - rate) < 1e-9:
                if from_s < t_s:
                    yield from_s, t_s, rate
                from_s, rate = (t_s, u - d) if steady else (math.inf, math.nan)
            next_up = up[m + 1][0] if m + 1 < len(up) else math.inf
            next_down = down[n + 1][0] if n + 1 < len(down) else math.inf
            m += next_up <= next_down
            n += next_down <= next_up
        if from_s < ends_s:
            yield from_s, ends_s, rate
