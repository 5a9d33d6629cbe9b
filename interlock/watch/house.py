"""One house and one adapter as the desk holds them between two inputs."""

from __future__ import annotations

import math

from interlock.plan.timeline import PlannedCue, house_cues, part_at
from interlock.showfile.show import House, Part, Show
from interlock.signals import AdapterSpec
from interlock.watch.machine import Machine
from interlock.watch.motion import Motion
from interlock.watch.signal import Signal
from interlock.watch.state import AdapterPhase, CuePhase, HousePhase


class HouseWatch:
    """One house: its machine, its other contacts, and what has been said of it."""

    def __init__(self, index: int, spec: House, show: Show) -> None:
        self.index = index
        self.spec = spec
        self.id = spec.id
        self.machine = Machine(
            Motion(show.fps, spec.ramp_s, spec.coast_s, spec.ramp_scatter_s, spec.speed_tolerance * show.fps)
        )
        self.lamp, self.dowser, self.film = Signal(), Signal(), Signal()
        self.phase: HousePhase = "threaded"
        self.first_picture_at_fr = show.first_picture_at_fr[index]
        self.path_var = math.fsum((k.path_tolerance * k.path_fr) ** 2 for k in show.links[:index])
        self.mark_fr = 0.0
        """What marks have corrected the frame by."""
        self.dark = not spec.lit
        self.lit_on_picture = False
        self.over_s = math.inf
        """Desk second at which its last picture was surely over; inf while it is not."""
        self.start_seen_s: float | None = None
        self.start_early = False
        """Whether that start was early by the wall clock of its own moment: a clock that is set later makes none early."""
        self.off_fps = 0.0
        """How far it was off the others' speed a second ago."""
        self.said: tuple[object, ...] = ()
        self._show = show
        self._part: Part | None = None
        self.cues: list[PlannedCue] = house_cues(show, index)
        self.cue_states: list[CuePhase | None] = [None] * len(self.cues)

    def frame(self, t_s: float) -> tuple[float, float, float] | None:
        """(print frame in the gate, frames per second, variance, path tolerance included); None where not known."""
        p = self.machine.position(t_s)
        if p is None:
            return None
        return p[0] - self.first_picture_at_fr + self.mark_fr, p[1], p[2] + self.path_var

    def part_at(self, frame: float) -> Part | None:
        """The part that print frame ``frame`` belongs to: nearly always the one of the last time."""
        part = self._part
        if part is None or not part.start_fr <= frame < part.end_fr:
            self._part = part = part_at(self._show, frame)
        return part

    def when_s(self, t_s: float, now: tuple[float, float, float], frame: float) -> float:
        """Desk second at which ``frame`` is (or was) in the gate, ``now`` being :meth:`frame`, the machine running on.

        A standing machine is taken as if it started at speed now; one that ramps is going to be at speed, and the ramp costs
        half of what is left of it. A frame that came during the ramp is dated by it, and one that was there when the machine
        started not later than that.
        """
        motion = self.machine.motion
        profile = motion.profile
        steady = t_s >= profile.steady_s and now[1] > 0.5 * motion.fps
        fps = now[1] if steady else motion.fps
        ahead_fr = frame - now[0]
        if profile.v1 > 0.0 and ahead_fr <= 0.0:
            x = profile.at(t_s)[0] + ahead_fr
            if x <= profile.x0:
                return min(profile.t0_s, t_s + ahead_fr / fps)
            return profile.when(x) if x < profile.x1 else t_s + ahead_fr / fps
        at_s = t_s + ahead_fr / fps
        left_s = profile.steady_s - t_s
        if left_s <= 0.0 or profile.v1 == 0.0:
            return at_s
        return at_s + left_s * 0.5 * max(0.0, 1.0 - now[1] / motion.fps)

    def mark(self, t_s: float, frame: float, sigma_fr: float) -> bool:
        """That frame is in the gate now: corrects where the print is, never drift. False with no position to correct."""
        now = self.frame(t_s)
        if now is None:
            return False
        self.mark_fr += frame - now[0]
        self.path_var = sigma_fr**2  # from here on the survey has no part in it
        return True


class AdapterWatch:
    """One adapter: when it was last heard, and which signals hang on it."""

    def __init__(self, index: int, spec: AdapterSpec, now_s: float) -> None:
        self.index = index
        self.name = spec.name
        self.signals = spec.wiring.signals()
        self.word_s = now_s
        self.due_s = -math.inf
        """When it is to be looked at again: no later than it could be silent for too long."""
        self.heard = False
        self.phase: AdapterPhase | None = None
        self.lines = self.bad_lines = self.lost_lines = 0
        self.text = ""
