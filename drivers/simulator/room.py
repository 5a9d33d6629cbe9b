"""The machine room: what is true. Pure; it is advanced in plan time and knows no clock.

Everything that changes how something moves is an event in one queue, so the room jumps from event to event and is the
same whatever the steps in which it is advanced. Once a second the speeds wander.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from itertools import count, pairwise

from drivers.simulator.chance import stream
from drivers.simulator.crew import Crew
from drivers.simulator.fault_model import FaultModel
from drivers.simulator.film import Film
from drivers.simulator.hands import Hands
from drivers.simulator.machine import BEAT_S, MAINS_SIGMA, MAINS_TAU_S, Loop, Machine, Swing
from drivers.simulator.machines import SimSpec
from drivers.simulator.motion import crossings
from drivers.simulator.scenario import Scenario
from drivers.simulator.truth import TrueEvent, Truth, truth_of

STALL_COAST_S = 0.08
WIRED_S = 0.03
KEEP_S = 60.0
UNPLANNED = frozenset({"trip", "stalled", "wired"})
Listener = Callable[[float, str, bool], None]


class Room:
    """The booth from ``begin_s`` (plan time, before the first start) on.

    ``listen(t, signal, value)`` is called for each contact that changes, in order; ``adapter_fault(t, fault)``
    for each fault of an adapter or contact. With ``history`` nothing is forgotten, for an oracle.
    """

    def __init__(
        self, spec: SimSpec, seed: int = 0, scenario: Scenario | None = None, *, begin_s: float = -60.0,
        history: bool = False, adapter_fault: Callable[[float, FaultModel], None] | None = None,
    ) -> None:  # fmt: skip
        self.spec, self.seed, self.scenario = spec, f"{seed}", scenario or Scenario()
        self.scenario.check(spec)
        self.now_s = begin_s
        self.begin_s = begin_s
        self.history = history
        self.log: list[TrueEvent] = []
        self.listen: Listener = _nobody
        self.adapter_fault = adapter_fault or _nobody_either
        self.struck: Callable[[float, str], None] = _nobody_either
        self._queue: list[tuple[float, int, Callable[[float], None]]] = []
        self._order = count()
        self.mains = {
            s: Swing(stream(self.seed, "mains", s), MAINS_SIGMA, MAINS_TAU_S)
            for s in sorted({m.supply for m in spec.machines})
        }
        self.mains_off = dict.fromkeys(self.mains, 0.0)
        self.machines = [Machine(k, m, spec.fps, self.seed, begin_s) for k, m in enumerate(spec.machines)]
        self.by_house = {m.house: m for m in self.machines}
        self.loops = [
            Loop(p, a, b, self.seed) for p, (a, b) in zip(spec.loops, pairwise(self.machines), strict=True)
        ]
        at_fr = spec.first_picture_fr
        for m, p in zip(self.machines, [*self.loops, None], strict=True):
            m.first_picture_fr, m.end_frame = at_fr, spec.length_fr
            at_fr += p.path_fr if p is not None else 0.0
        self.beat_s = math.floor(begin_s / BEAT_S) * BEAT_S
        self.film = Film(self)
        self.crew = Crew(self)
        self.hands = Hands(self)
        self.hands.from_the_beginning()
        for m in self.machines:
            self.plan_start(m, m.spec.start_delay_s + m.scatter * m.spec.start_scatter_s + m.late_s)
        self._beat(self.beat_s)

    # Time.

    def at(self, t_s: float, do: Callable[[float], None]) -> None:
        """``do(t)`` at ``t_s``."""
        heapq.heappush(self._queue, (max(t_s, self.now_s), next(self._order), do))

    def advance(self, to_s: float) -> None:
        """Everything up to and including ``to_s`` happens."""
        queue = self._queue
        while queue and queue[0][0] <= to_s:
            t_s, _, do = heapq.heappop(queue)
            self.now_s = t_s
            do(t_s)
        self.now_s = max(self.now_s, to_s)

    def _beat(self, t_s: float) -> None:
        self.beat_s = t_s + BEAT_S
        for swing in self.mains.values():
            swing.step()
        for m in self.machines:
            m.wander.step()
            if m.hunting is not None:
                m.hunting.step()
            if m.phase == "running":
                m.motion.begin(max(t_s, self.begin_s), self.speed(m))
                self.look(m, t_s)
            elif m.phase != "standing":
                self.look(m, t_s)
        for p in self.loops:
            self.film.watch(p, t_s)
        if not self.history and round(t_s) % 30 == 0:
            for m in self.machines:
                m.motion.forget(t_s - KEEP_S)
        self.at(self.beat_s, self._beat)

    # Machines.

    def speed(self, m: Machine) -> float:
        """The speed that ``m`` runs at now."""
        supply = m.spec.supply
        return m.target_fps(self.mains[supply].x + self.mains_off[supply])

    def moved(self, m: Machine, t_s: float) -> None:
        """It moves otherwise from now on: what was foreseen is foreseen anew."""
        self.look(m, t_s)
        for p in self.loops[max(m.index - 1, 0) : m.index + 1]:
            self.film.watch(p, t_s)

    def look(self, m: Machine, t_s: float) -> None:
        """Foresee the next mark of ``m``, if it comes before the next beat."""
        m.look_no = number = m.look_no + 1
        mark_fr = m.next_mark()
        if mark_fr is None:
            return
        when_s = m.motion.when(mark_fr, self.beat_s)
        if when_s is None:
            return

        def reached(at_s: float) -> None:
            if m.look_no == number:
                m.take_mark()(at_s)
                self.look(m, at_s)

        self.at(max(when_s, t_s), reached)

    def plan_start(self, m: Machine, t_s: float | None) -> None:
        """It is going to start then; None: not at all."""
        m.start_no = number = m.start_no + 1
        m.start_s = t_s
        if t_s is None:
            return
        self.at(t_s, lambda at_s: self.start(m, at_s) if m.start_no == number and not m.no_start else None)

    def start(self, m: Machine, t_s: float) -> None:
        """Its motor gets current now."""
        m.start_s = None
        if m.motor_on:
            return
        m.motor_on, m.phase = True, "ramp"
        m.switched.append(t_s)
        ramp_s, fps = m.ramp_s(), m.motion.fps(t_s)
        m.motion.begin(t_s, fps, (self.speed(m) - fps) / ramp_s)
        m.drive_no = number = m.drive_no + 1

        def at_speed(at_s: float) -> None:
            if m.drive_no == number:
                m.phase = "running"
                m.motion.begin(at_s, self.speed(m))
                self.moved(m, at_s)

        self.at(t_s + ramp_s, at_speed)
        self.say(t_s, "start", m.house)
        self.contact(t_s, f"{m.house}.run", True)
        self.moved(m, t_s)
        self.film.motors_changed(m, t_s)

    def cut(self, m: Machine, t_s: float, why: str) -> None:
        """Its motor loses current now; a stalled one stops at once."""
        m.start_s, m.start_no = None, m.start_no + 1
        if not m.motor_on and why != "stalled":
            return
        was_on, m.motor_on, m.phase = m.motor_on, False, "coast"
        if was_on:
            m.switched.append(t_s)
        fps = m.motion.fps(t_s)
        coast_s = STALL_COAST_S if why == "stalled" else max(m.spec.coast_s, 1e-3)
        m.motion.begin(t_s, fps, -fps / coast_s)
        m.drive_no = number = m.drive_no + 1

        def standing(at_s: float) -> None:
            if m.drive_no == number:
                m.phase = "standing"
                m.motion.begin(at_s, 0.0)
                self.moved(m, at_s)

        self.at(t_s + coast_s, standing)
        self.say(t_s, "stop", m.house, why)
        if was_on:
            self.contact(t_s, f"{m.house}.run", False)
        self.moved(m, t_s)
        self.film.motors_changed(m, t_s)
        if was_on and why not in ("jog", "motor-off"):
            for p in self.loops[max(m.index - 1, 0) : m.index + 1]:
                if p.spec.wired and not p.released:
                    other = p.down if p.up is m else p.up
                    self.at(t_s + WIRED_S, lambda at_s, other=other: self.cut(other, at_s, "wired"))  # type: ignore[misc]
        if why in UNPLANNED:
            self.crew.incident(m, t_s)

    # What is said of it.

    def say(self, t_s: float, what: str, subject: str, text: str = "") -> None:
        """Into the log of true events."""
        self.log.append(TrueEvent(t_s, what, subject, text))

    def contact(self, t_s: float, signal: str, value: bool) -> None:
        """A contact moves."""
        self.listen(t_s, signal, value)

    def truth(self, t_s: float | None = None) -> Truth:
        """What is true at ``t_s``, now or within the last minute (with history: at any time before)."""
        return truth_of(self.machines, self.loops, self.now_s if t_s is None else t_s)

    def crossings(self, link: str, level_fr: float) -> list[tuple[float, int]]:
        """Each (plan time, +1 rising or −1 falling) at which that link's true drift passed ``level_fr``."""
        p = next(p for p in self.loops if p.id == link)
        return [c for c in crossings(p.up.motion, p.down.motion, level_fr) if c[0] <= self.now_s]

    @property
    def idle(self) -> bool:
        """Nothing moves, and nothing is going to without somebody's doing."""
        return (
            self.now_s >= self.hands.last_fault_s
            and not self.crew.will_restart
            and all(m.phase == "standing" and (m.start_s is None or m.no_start) for m in self.machines)
        )

    @property
    def cleared(self) -> bool:
        """The film is through everywhere, and every motor off."""
        return self.idle and all(m.clear for m in self.machines)


def _nobody(t_s: float, signal: str, value: bool) -> None:
    """No adapter listens."""


def _nobody_either(t_s: float, what: object) -> None:
    """No adapter has this fault."""
