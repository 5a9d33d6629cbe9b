"""One simulated show's truth beside what the desk said of it: what the oracle asks of both."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator
from datetime import datetime

from interlock.watch.state import AlarmLine, HouseLine, LinkLine, ShowLine
from tests.campaign.booths import WALL_S
from tests.campaign.drive import SAYS_S, Run

LOST_S = 0.55
"""Contacts are told every 250 ms (wire.md): a change whose own line is lost is known so late where the next is lost too."""
ARM_PLAN_S = -30.0
"""The clock steps of these shows come after the arming."""
JUDGED = ("starting", "running", "running-out")
"""Phases in which loops and stops are judged."""


class Beside:
    """Plan times, truth and what the sensors could tell, of one run."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self.room = run.booth.room
        self.links = [k.id for k in run.show.links]
        self.ends = {k.id: (i, {k.upstream, k.downstream}) for i, k in enumerate(run.show.links)}
        """Link → its index, and its two houses."""
        self.alarm_lines = [x for x in run.lines if isinstance(x, AlarmLine)]
        self.zero_s = next((x.show_s for x in run.lines if x.show_s is not None), None)
        phases = [x for x in run.lines if isinstance(x, ShowLine)]
        self.zero_plan_s = self._zero_plan_s()
        self.phases = [(self.plan_s(x.show_s), x.phase) for x in phases if x.show_s is not None]
        self.base_fr = [x.drift_fr for x in self.room.truth(ARM_PLAN_S).loops]
        self.unsure = self._unsure_signals()
        self.losing = self._losing()
        self.lossy = {h for h in self.losing if not self._counted(h)}
        """Those without a counter: a change is known by the next line only."""
        log = self.room.log
        self._switched = sorted((e.at_s, e.subject) for e in log if e.what in ("start", "stop"))
        self._passed = [(e.at_s, e.subject) for e in log if (e.what, e.text) == ("fault", "pass-film")]
        self._over = {e.subject: e.at_s for e in reversed(log) if e.what in ("released", "parted")}
        self._swings = {k for k in self.links if self._may_swing(k)}
        self._silences = self._silent_spells()

    def _zero_plan_s(self) -> float | None:
        """Plan time of the desk's show zero, by the wall clock and its steps before it. A lost line may date it late."""
        for x in self.run.lines:
            if isinstance(x, ShowLine) and x.show_s is not None:
                zero_s = datetime.fromisoformat(x.at).timestamp() - WALL_S - x.show_s
                steps = [f.by_s for f in self.run.scenario.faults if f.kind == "clock-step"]
                starts = [e.at_s for e in self.room.log if e.what == "start"]
                # Before the clock was set or after it: whichever has a start beside it.
                return min(
                    (zero_s, zero_s - math.fsum(steps)),
                    key=lambda s: min((abs(t - s) for t in starts), default=0.0),
                )
        return None

    def plan_s(self, show_s: float) -> float:
        assert self.zero_plan_s is not None
        return show_s + self.zero_plan_s

    def _unsure_signals(self) -> set[str]:
        """Houses whose contacts or counters lie, and so what is judged of them."""
        lies: set[str] = set()
        for fault in self.run.scenario.faults:
            if fault.kind in ("stuck-contact", "chatter"):
                lies.add(fault.signal.split(".")[0])
            elif fault.kind == "dead-counter":
                lies.add(fault.house)
            elif fault.kind in ("creep", "wander", "speed") and not self._counted(fault.house):
                # A contact alone cannot tell, and the show file says that it does not happen.
                lies.add(fault.house)
        lies |= {h.id for h in self.run.show.houses if self._unseen(h.id)}
        # Film passed by hand less than a second before the motor starts looks like the start.
        return lies | {
            e.subject
            for e in self.room.log
            if (e.what, e.text) == ("fault", "pass-film")
            and any(
                s.what == "start" and s.subject == e.subject and 0.0 <= s.at_s - e.at_s < 1.0
                for s in self.room.log
            )
        }

    def _unseen(self, house: str) -> bool:
        """Whether it started and stopped within one silence, and no counter tells."""
        if self._counted(house):
            return False
        for f in self.run.scenario.faults:
            if f.kind in ("silence", "unplug", "restart") and f.at_s is not None:
                spec = next(a for a in self.run.show.adapters if a.name == f.adapter)
                switched = [
                    e for e in self.room.log
                    if e.what in ("start", "stop") and e.subject == house and f.at_s <= e.at_s <= f.at_s + f.for_s
                ]  # fmt: skip
                if len(switched) > 1 and f"{house}.run" in spec.wiring.signals():
                    return True
        return False

    def _losing(self) -> set[str]:
        """Houses on a line that loses lines or brings them late."""
        bad = {f.adapter for f in self.run.scenario.faults if f.kind in ("dropped", "damaged", "delayed")}
        return {s.split(".")[0] for a in self.run.show.adapters if a.name in bad for s in a.wiring.signals()}

    def torn(self, link: str, plan_s: float) -> bool:
        """Whether it tore at that moment, with an arm on it."""
        wired = any(f"{link}.arm" in a.wiring.signals() for a in self.run.show.adapters)
        return wired and any(
            e.what == "parted" and e.subject == link and abs(e.at_s - plan_s) < 0.05 for e in self.room.log
        )

    def underway(self, link: str, plan_s: float) -> bool:
        """Whether a start or stop beside it is so new that a line that is held up has not told of it yet."""
        held_s = max((f.by_s for f in self.run.scenario.faults if f.kind == "jitter"), default=0.0)
        _, ends = self.ends[link]
        if not self.lossy.isdisjoint(ends):
            held_s += LOST_S
        first = bisect_left(self._switched, (plan_s - held_s - 1.0,))
        last = bisect_left(self._switched, (plan_s + 1.0,))
        return any(
            house in ends and 0.0 <= plan_s - at_s <= held_s for at_s, house in self._switched[first:last]
        )

    def swung(self, link: str) -> bool:
        """Whether the supply of one of its two machines was shifted by more than supplies are apart, and no counter tells."""
        return link in self._swings

    def _may_swing(self, link: str) -> bool:
        ends = [h for h in self.run.show.houses if h.id in link.split(">")]
        shifted = {f.supply for f in self.run.scenario.faults if f.kind == "mains"}
        return (
            ends[0].supply != ends[1].supply
            and any(h.supply in shifted for h in ends)
            and not all(self._counted(h.id) for h in ends)
        )

    def by_hand(self, link: str, plan_s: float) -> bool:
        """Whether film was passed by hand beside it and the crew has only just said so, or not yet."""
        _, ends = self.ends[link]
        return any(house in ends and -0.1 < plan_s - at_s < SAYS_S + 0.2 for at_s, house in self._passed)

    def _counted(self, house: str) -> bool:
        return any(f"{house}.frames" in a.wiring.signals() for a in self.run.show.adapters)

    def drift(self, i: int, plan_s: float) -> float:
        """True drift of link ``i`` since the desk was armed."""
        return self.room.loops[i].drift_fr(plan_s) - self.base_fr[i]

    def ended_s(self, i: int) -> float:
        """Plan time from which nothing is judged of link ``i``: released, or parted."""
        return self._over.get(self.links[i], math.inf)

    def phase_at(self, plan_s: float) -> str:
        """The desk's phase then."""
        now = "armed"
        for at_s, phase in self.phases:
            if at_s > plan_s:
                break
            now = phase
        return now

    def trips(self, *codes: str) -> Iterator[AlarmLine]:
        states: dict[tuple[str, str], bool] = {}
        for x in self.alarm_lines:
            if x.code in codes:
                was = states.get((x.code, x.subject), False)
                states[x.code, x.subject] = x.active
                if x.active and not was:
                    yield x

    def sigma(self, i: int, show_s: float) -> float:
        lines = [
            x
            for x in self.run.lines
            if isinstance(x, LinkLine) and x.link == self.links[i] and x.show_s is not None
        ]
        near = [x.sigma_fr for x in lines if x.sigma_fr is not None and abs((x.show_s or 0.0) - show_s) < 1.5]
        return max(near, default=1.0)

    def frame_sigma(self, house: str, plan_s: float) -> float:
        """What the desk last said of its certainty where the print is there."""
        said = 0.0
        for x in self.run.lines:
            if (
                isinstance(x, HouseLine)
                and x.house == house
                and x.show_s is not None
                and x.sigma_fr is not None
            ):
                if self.plan_s(x.show_s) > plan_s + 1.0:
                    break
                said = max(x.sigma_fr, said) if self.plan_s(x.show_s) > plan_s - 1.0 else x.sigma_fr
        return said

    def blind_spell(self, i: int, t_s: float) -> bool:
        """Whether the sensors could not tell: unknown or uncertain within 1.5 s before, or lines missing."""
        a, b = self.links[i].split(">")
        if {a, b} & self.unsure:
            return True
        show_s = t_s - (self.zero_plan_s or 0.0)
        for x in self.run.lines:
            if not isinstance(x, LinkLine) or x.link != self.links[i] or x.show_s is None:
                continue
            if abs(x.show_s - show_s) < 2.5 and (x.drift_fr is None or (x.sigma_fr or 0.0) > 4.0):
                return True
        return False

    def turning(self, house: str, plan_s: float) -> bool:
        """Whether its motor truly had current then."""
        on = False
        for e in self.room.log:
            if e.at_s > plan_s:
                break
            if e.subject == house and e.what in ("start", "stop"):
                on = e.what == "start"
        return on

    def heard(self, house: str, plan_s: float) -> bool:
        """Whether its adapter was heard all the time around then."""
        near = [
            x for x in self.run.lines
            if isinstance(x, HouseLine) and x.house == house and x.show_s is not None
            and abs(self.plan_s(x.show_s) - plan_s) < 3.0
        ]  # fmt: skip
        return bool(near) and all(x.run is not None for x in near)

    def silent(self, link: str, plan_s: float) -> bool:
        """Whether an adapter of one of the two houses said nothing then."""
        _, ends = self.ends[link]
        return any(a <= plan_s <= b and not ends.isdisjoint(houses) for a, b, houses in self._silences)

    def _silent_spells(self) -> list[tuple[float, float, set[str]]]:
        """From when to when an adapter said nothing, and of which houses."""
        signals = {a.name: a.wiring.signals() for a in self.run.show.adapters}
        return [
            (f.at_s, f.at_s + f.for_s, {s.split(".")[0] for s in signals[f.adapter]})
            for f in self.run.scenario.faults
            if f.kind in ("silence", "unplug", "restart") and f.at_s is not None
        ]
