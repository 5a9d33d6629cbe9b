"""A machine as contact and counter tell it, and whether that can be believed: not while the two contradict each other."""

from __future__ import annotations

import math

from interlock.watch.motion import Motion
from interlock.watch.signal import Counter, Signal


class Sensed:
    """What a machine's contact and counter have said so far.

    ``doubt_since_s``: contact and counter contradict each other since then. ``untracked``: it was found turning, so nobody
    knows how far it had come. ``bias_var``: variance that no pulse can take away, frames².
    """

    __slots__ = (
        "bias_var",
        "counter",
        "doubt_since_s",
        "motion",
        "ran",
        "run",
        "start_s",
        "stop_s",
        "tracking",
        "untracked",
    )

    def __init__(self, motion: Motion) -> None:
        self.motion = motion
        self.run = Signal()
        self.counter = Counter()
        self.tracking = False
        self.ran = False
        """It has turned since the start, or since the restart after a stop."""
        self.start_s: float | None = None
        self.stop_s: float | None = None
        self.doubt_since_s: float | None = None
        self.untracked = False
        self.bias_var = 0.0

    @property
    def turning(self) -> bool | None:
        """Whether the motor turns, by its contact, or where none is wired by its counter; None is unknown."""
        if self.run.wired:
            return self.run.now
        if self.counter.wired:
            return self.motion.profile.v1 > 0.0 if self.counter.known else None
        return None

    def position(self, t_s: float) -> tuple[float, float, float] | None:
        """(frames run, frames per second, variance) at ``t_s``; None where it cannot be known."""
        if self.doubt_since_s is not None or self.untracked:
            return None
        if not self.run.known and not self.counter.known:
            return None
        m = self.motion
        x, v, var = m.memo if t_s == m.memo_s else m.at(t_s)
        return x, v, var + self.bias_var

    def _stands(self) -> bool:
        p = self.motion.profile
        return p.v0 == 0.0 and p.v1 == 0.0 and self.run.value is not True

    def _still_s(self) -> float:
        """From when on a machine that was cut can have no pulse of its own any more."""
        p = self.motion.profile
        if p.v0 == p.v1 == 0.0:
            return -math.inf
        # A stop in a silence is dated in its middle: it may have turned until it was first heard to stand.
        return max(p.steady_s + self.motion.coast_s + 0.5, self.run.since_s)

    def lose_track(self, t_s: float) -> None:
        """A contradiction ends that is older than ramp and coast explain: how far it ran meanwhile nobody knows."""
        due_s = self.doubt_due_s()
        if due_s is not None and due_s <= t_s and self.counter.hand_from_fr is None:
            self.untracked = True

    def doubt_due_s(self) -> float | None:
        """When a contradiction is older than ramp and coast explain."""
        if self.doubt_since_s is None:
            return None
        return self.doubt_since_s + max(self.motion.ramp_s, self.motion.coast_s) + 0.5
