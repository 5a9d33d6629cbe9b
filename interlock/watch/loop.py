"""One link as the desk knows it: the drift of its loop, and what is left of it.

Drift is frames of upstream minus frames of downstream since threaded: + the loop grows towards
spill, − towards tight. It comes from the two machines' positions; an arm or a limit switch measures
the loop itself and corrects the difference; ``rezero`` says what it is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from interlock.showfile.show import Link
from interlock.watch.machine import Machine
from interlock.watch.marks import Marks
from interlock.watch.signal import Signal
from interlock.watch.state import LinkPhase

ARM_SHARE = 0.02
"""1-sigma of an accumulator arm, as a share of the limit: backlash and a bent rail."""
SWITCH_SIGMA_FR = 2.0
"""1-sigma of where a limit switch closes."""
REZERO_SIGMA_FR = 0.5
"""1-sigma of a loop measured by hand."""
SUPPLY_SHARE = 0.0005
"""Two supplies (or a crystal beside the mains) may be apart by this share of speed."""


class Drift:
    """A drift at one moment: frames, variance, frames per second."""

    __slots__ = ("fr", "rate_fps", "var")

    def __init__(self, fr: float, var: float, rate_fps: float) -> None:
        self.fr, self.var, self.rate_fps = fr, var, rate_fps


class Loop:
    """Between ``up`` and ``down``. ``parted`` and ``released`` end all judging.

    ``slack_shares``: shares of a limit at which its alarms trip, the least first; ``spill_steps_fr`` and ``tight_steps_fr`` are
    the same in frames.
    """

    __slots__ = (
        "arm_fact_s",
        "arm_known",
        "arm_var",
        "corr_fr",
        "corr_var",
        "down",
        "id",
        "less_var",
        "link",
        "marks",
        "nearer_fr",
        "other_supply",
        "phase",
        "span_fr",
        "spill_steps_fr",
        "spill_switch",
        "tight_steps_fr",
        "tight_switch",
        "unknown",
        "up",
    )

    def __init__(
        self, link: Link, up: Machine, down: Machine, other_supply: bool, slack_shares: Sequence[float]
    ) -> None:
        self.link, self.up, self.down, self.other_supply = link, up, down, other_supply
        self.id = link.id
        self.phase: LinkPhase = "threaded"
        self.tight_switch, self.spill_switch = Signal(), Signal()
        self.arm_known = False
        self.arm_fact_s = -math.inf
        self.unknown = False
        """One of its machines was found turning: not known until the loop is measured."""
        self.corr_fr = self.corr_var = self.less_var = 0.0
        self.marks: Marks | None = None
        self.span_fr = link.tight_fr + link.spill_fr
        self.nearer_fr = min(link.tight_fr, link.spill_fr)
        self.spill_steps_fr = tuple(share * link.spill_fr for share in slack_shares)
        self.tight_steps_fr = tuple(share * link.tight_fr for share in slack_shares)
        self.arm_var = (ARM_SHARE * self.span_fr / 2.0) ** 2 + 0.25

    @property
    def judged(self) -> bool:
        """Whether anything is said about it at all."""
        return self.phase not in ("parted", "released")

    def arm(self) -> None:
        """Threaded: drift counts from here."""
        if self.phase == "running":
            self.phase = "threaded"
        self.corr_fr = self.corr_var = self.less_var = 0.0

    def drift(self, t_s: float) -> Drift | None:
        """At ``t_s``; None where it cannot be known."""
        said = self.machines_say(t_s)
        if self.marks is None or said is None:
            return said
        told = self.marks.at(t_s, self)
        return said if told is None else Drift(said.fr + told[0], told[2], said.rate_fps + told[1])

    def machines_say(self, t_s: float) -> Drift | None:
        """The same without what splices have told, marked in both gates."""
        if not self.judged or self.unknown:
            return None
        raw = self._raw(t_s)
        if raw is None:
            return None
        x, var, rate = raw
        more_var = var - self.less_var
        return Drift(x + self.corr_fr, self.corr_var + more_var if more_var > 0.0 else self.corr_var, rate)

    def _raw(self, t_s: float) -> tuple[float, float, float] | None:
        u = self.up.position(t_s)
        if u is None:
            return None
        d = self.down.position(t_s)
        if d is None:
            return None
        var = u[2] + d[2]
        if self.other_supply:
            var += self._supply_var(max(u[0], d[0]))
        return u[0] - d[0], var, u[1] - d[1]

    def _supply_var(self, run_fr: float) -> float:
        # By the film and not by the clock: two that stand are no further apart for it, and what they were apart stays.
        if self.up.motion.counted and self.down.motion.counted:
            return 0.0
        return (SUPPLY_SHARE * run_fr) ** 2

    def measured(self, t_s: float, drift_fr: float, var: float) -> None:
        """The loop itself was measured: weighed against what the machines say, by their variances."""
        if not self.judged:
            return
        raw = self._raw(t_s)
        if raw is None:
            return
        raw_fr, raw_var, _ = raw
        more_var = raw_var - self.less_var
        prior_var = self.corr_var + more_var if more_var > 0.0 else self.corr_var
        self.less_var = raw_var
        if prior_var > 0.0:
            gain = prior_var / (prior_var + var)
            self.corr_fr += gain * (drift_fr - raw_fr - self.corr_fr)
            self.corr_var = (1.0 - gain) * prior_var
        else:
            self.corr_var = prior_var

    def rezero(self, t_s: float, drift_fr: float) -> bool:
        """Somebody measured it: drift is that. False where its machines' positions are not known."""
        self.unknown = False
        for m in (self.up, self.down):
            if m.untracked:
                m.untracked = False
        raw = self._raw(t_s)
        if raw is None:
            return False
        self.corr_fr = drift_fr - raw[0]
        self.corr_var = REZERO_SIGMA_FR**2
        self.less_var = raw[1]
        return True

    def arm_says(self, t_s: float, position: float) -> None:
        """An accumulator arm at ``position``: linear from −1 at the tight limit to +1 at the spill limit."""
        if t_s < self.arm_fact_s:
            return
        self.arm_fact_s = t_s
        if -1.0 < position < 1.0:
            self.measured(t_s, 0.5 * (position + 1.0) * self.span_fr - self.link.tight_fr, self.arm_var)
        else:
            self.at_limit(t_s, position > 0.0, self.arm_var)

    def at_limit(self, t_s: float, spills: bool, var: float = SWITCH_SIGMA_FR**2) -> None:
        """An arm at its stop or a limit switch: the limit is reached. How far beyond it is, neither can tell."""
        d = self.drift(t_s)
        limit_fr = self.link.spill_fr if spills else -self.link.tight_fr
        short_fr = 0.0 if d is None else (limit_fr - d.fr if spills else d.fr - limit_fr)
        if short_fr > 2.0 * math.sqrt(var):  # less may be the arm's own noise, and would add up
            self.measured(t_s, limit_fr, var)

    def limit_fr(self, drift_fr: float) -> float:
        """The limit on the side on which the drift is."""
        return self.link.tight_fr if drift_fr < 0.0 else self.link.spill_fr

    def used(self, drift_fr: float) -> float:
        """Share of that limit."""
        return abs(drift_fr) / self.limit_fr(drift_fr)

    def left_fr(self, drift_fr: float) -> float:
        """To the nearer limit."""
        return min(self.link.tight_fr + drift_fr, self.link.spill_fr - drift_fr)

    @staticmethod
    def toward(drift_fr: float) -> Literal["tight", "spill"]:
        """Which way."""
        return "tight" if drift_fr < 0.0 else "spill"

    @property
    def lost(self) -> bool:
        """A limit switch says so."""
        return self.tight_switch.now is True or self.spill_switch.now is True
