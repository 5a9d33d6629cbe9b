"""One machine as the desk knows it: contacts and counter in, position out.

Position is frames run since the desk was armed (what was jogged while threading does not count).
Unknown is a value: with its adapter silent, or with contact and counter against each other, there is none.
"""

from __future__ import annotations

import math

from interlock.watch.by_hand import started_by_pulses
from interlock.watch.counted import Counted

HAND_SIGMA_S = 0.03
"""1-sigma of a start that is dated by the first pulses after it."""


class Machine(Counted):
    """Contacts and counter of one machine, and its motion: what arming, its contact, its adapter and the crew do to it."""

    __slots__ = ()

    def arm(self, t_s: float) -> None:
        """Frames count from here."""
        self.tracking = True
        turning = self.run.value is True and self.run.known
        self.untracked = turning and self.run.since_s == -math.inf
        self.motion.rezero(t_s, turning)
        self.counter.base_fr = self.counter.last_fr
        self.counter.anchor_anew = self.counter.wired and not self.counter.known
        self.counter.hand_from_fr = None
        self.doubt_since_s = None
        # Where between two pulses the film stood when it was armed, no pulse will ever tell.
        self.bias_var = self.counter.frames_per_pulse**2 / 12.0 if self.counter.wired else 0.0
        self.ran = turning
        self.start_s = t_s if turning else None
        self.stop_s = None

    def disarm(self, t_s: float) -> None:
        """As threaded: nothing that turns counts."""
        self.arm(t_s)
        self.tracking = self.ran = self.untracked = False
        self.start_s = None

    def edge(self, t_s: float, turning: bool, sigma_s: float) -> float:
        """The contact changed at ``t_s`` (dated within ``sigma_s``). Returns the date that it is taken to have."""
        if not self.tracking:
            return t_s
        c = self.counter
        if turning and c.hand_from_fr is not None:
            start_s = started_by_pulses(self.motion, c)
            if start_s is None:
                c.base_fr += c.last_fr - c.hand_from_fr
                c.hand_from_fr = None
            elif start_s < t_s:
                t_s, sigma_s = start_s, max(sigma_s, HAND_SIGMA_S)
        if not turning:
            self.lose_track(t_s)
        self.motion.edge(t_s, turning, sigma_s)
        if turning and c.hand_from_fr is not None:
            self.motion.pulse(c.last_pulse_s, c.last_fr - c.base_fr)
        c.hand_from_fr = None
        self.doubt_since_s = None
        if turning:
            self.start_s = t_s
            self.stop_s = None
            self.ran = True
        else:
            self.stop_s = t_s
        return t_s

    def found_turning(self, t_s: float) -> None:
        """The first word about this machine is that it turns."""
        self.untracked = self.tracking
        self.edge(t_s, True, 0.0)

    def restarted(self) -> None:
        """Its counter's adapter began anew: counts begin at 0 again."""
        self.counter.anchor_anew = True
        self.counter.known = False
        self.counter.hand_from_fr = None
        self.counter.last_pulse_s = self.counter.fact_s = -math.inf

    def carry(self, frames: float) -> None:
        """So many frames were passed through its gate by hand, and somebody says so."""
        self.motion.carry(frames)
        self.counter.base_fr -= frames

    def silent(self) -> None:
        """Its counter's adapter is not heard any longer."""
        self.counter.known = False
        self.motion.uncounted()
