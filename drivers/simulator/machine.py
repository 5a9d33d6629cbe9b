"""One machine and one loop of the room: their state, and the chance that each has of its own."""

from __future__ import annotations

import heapq
import math
from bisect import bisect_right
from collections.abc import Callable
from random import Random

from drivers.simulator.chance import stream
from drivers.simulator.machines import LoopSpec, MachineSpec
from drivers.simulator.motion import Motion

WANDER_TAU_S = 60.0
"""How long an induction machine's speed remembers its load."""
WANDER_SHARE = 0.25
"""1-sigma of an induction machine's wander, in its tolerances."""
MAINS_TAU_S = 300.0
MAINS_SIGMA = 0.0002
"""Mains: ±0.02 % 1-sigma, slowly. EN 50160 allows ±1 %; nearly always it is far better."""
LEAST_RAMP_S = 0.05
SWITCH_HYSTERESIS_FR = 0.25
BEAT_S = 1.0
"""How often speeds wander."""


class Swing:
    """A mean-reverting random walk (Ornstein-Uhlenbeck), stepped once a beat."""

    __slots__ = ("_keep", "_push", "_rng", "x")

    def __init__(self, rng: Random, sigma: float, tau_s: float) -> None:
        self._rng = rng
        self._keep = math.exp(-BEAT_S / tau_s)
        self._push = sigma * math.sqrt(1.0 - self._keep**2)
        self.x = rng.gauss(0.0, sigma) if sigma else 0.0

    def step(self) -> None:
        if self._push:
            self.x = self.x * self._keep + self._rng.gauss(0.0, self._push)


class Machine:
    """State of one machine. ``phase``: standing, ramp, running, coast. Frames are of its own run since threaded.

    ``print frame`` in its gate = frames run − ``first_picture_fr`` (the true one, the survey's error included);
    ``end_frame``: print frame of the film's end here, which a parted splice brings forward.
    """

    def __init__(self, index: int, spec: MachineSpec, fps: float, seed: str, begin_s: float) -> None:
        self.index, self.spec, self.fps = index, spec, fps
        self.house = spec.house
        rng = stream(seed, "machine", spec.house)
        self.offset = rng.gauss(0.0, spec.speed_tolerance)
        self.scatter = rng.gauss(0.0, 1.0)
        self.rng = rng
        wander = spec.speed_tolerance * WANDER_SHARE if spec.motor == "induction" else 0.0
        self.wander = Swing(stream(seed, "wander", spec.house), wander, WANDER_TAU_S)
        self.hunting: Swing | None = None
        self.creep = 0.0
        self.forced_fps: float | None = None
        self.motion = Motion(begin_s)
        self.phase = "standing"
        self.motor_on = False
        self.switched: list[float] = []
        """When its motor was switched on, off, on, …"""
        self.start_s: float | None = None
        """When it is going to start; None when nothing is planned."""
        self.start_no = 0
        self.drive_no = 0
        self.look_no = 0
        self.no_start = False
        self.late_s = 0.0
        self.first_picture_fr = 0.0
        self.end_frame = 0.0
        self.clear = False
        self._marks: list[tuple[float, int, Callable[[float], None]]] = []
        self._mark_no = 0

    def ramp_s(self) -> float:
        """A ramp, drawn anew for each start."""
        return max(LEAST_RAMP_S, self.rng.gauss(self.spec.ramp_s, self.spec.ramp_scatter_s))

    def target_fps(self, mains: float) -> float:
        """The speed it is running at, with the mains at 1 + ``mains``."""
        if self.forced_fps is not None:
            return self.forced_fps
        off = self.offset + self.wander.x + self.creep + (self.hunting.x if self.hunting else 0.0)
        if self.spec.motor != "crystal":
            off += mains
        return self.fps * (1.0 + off)

    def ran_at(self, t_s: float) -> bool:
        """Whether its motor had current at ``t_s``."""
        return bisect_right(self.switched, t_s) % 2 == 1

    def print_frame(self, t_s: float) -> float:
        """The print frame in the gate; negative is leader."""
        return self.motion.frames(t_s) - self.first_picture_fr

    def mark(self, run_fr: float, do: Callable[[float], None]) -> None:
        """``do(t)`` when it has run ``run_fr`` frames."""
        heapq.heappush(self._marks, (run_fr, self._mark_no, do))
        self._mark_no += 1

    def next_mark(self) -> float | None:
        """Frames at which the next mark is due."""
        return self._marks[0][0] if self._marks else None

    def take_mark(self) -> Callable[[float], None]:
        """The mark that is due, taken off."""
        return heapq.heappop(self._marks)[2]


class Loop:
    """State of the film between two gates."""

    def __init__(self, spec: LoopSpec, up: Machine, down: Machine, seed: str) -> None:
        self.spec, self.up, self.down = spec, up, down
        self.id = spec.id
        self.rng = stream(seed, "loop", spec.id)
        self.path_fr = spec.path_fr * (1.0 + self.rng.gauss(0.0, spec.path_tolerance))
        self.then: str | None = None
        self.tight = self.spill = self.parted = self.released = False
        self.loose_s = math.inf
        """Since when nothing ties the two machines together."""
        self.parted_s = self.released_s = math.inf
        self.look_no = 0

    @property
    def holds(self) -> bool:
        """Whether film still ties the two machines together."""
        return not (self.parted or self.released)

    def drift_fr(self, t_s: float) -> float:
        """Frames of upstream minus frames of downstream since threaded."""
        return self.up.motion.frames(t_s) - self.down.motion.frames(t_s)
