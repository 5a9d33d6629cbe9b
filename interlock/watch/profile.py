"""The shape of a machine's motion after its contact changed: at one speed, a straight ramp, at another."""

from __future__ import annotations

import math

SETTLE_S = 0.5
"""How long after ramp or coast a machine is still taken to be changing."""


class Profile:
    """Speed ``v0`` at ``t0_s``, linearly to ``v1`` until ``steady_s``, then ``v1``. Frames and frames per second."""

    __slots__ = ("before", "change_s", "settled_s", "steady_s", "t0_s", "v0", "v1", "x0", "x1")

    def __init__(
        self, t0_s: float, x0: float, v0: float, v1: float, change_s: float, before: Profile | None = None
    ) -> None:
        self.t0_s, self.x0, self.v0, self.v1, self.change_s = t0_s, x0, v0, v1, change_s
        self.before = before
        self.steady_s = t0_s + change_s
        self.settled_s = self.steady_s + SETTLE_S
        self.x1 = x0 + 0.5 * (v0 + v1) * change_s

    def at(self, t_s: float) -> tuple[float, float]:
        """(frames run, frames per second) at ``t_s``."""
        since_s = t_s - self.steady_s
        if since_s >= 0.0:
            return self.x1 + self.v1 * since_s, self.v1
        tau = t_s - self.t0_s
        if tau < 0.0:
            return self.before.at(t_s) if self.before is not None else (self.x0 + self.v0 * tau, self.v0)
        a = (self.v1 - self.v0) / self.change_s
        return self.x0 + (self.v0 + 0.5 * a * tau) * tau, self.v0 + a * tau

    def when(self, x: float) -> float:
        """When so many frames were run, of those between ``x0`` and ``x1``."""
        a = (self.v1 - self.v0) / self.change_s
        run_fr = x - self.x0
        return self.t0_s + 2.0 * run_fr / (self.v0 + math.sqrt(max(0.0, self.v0**2 + 2.0 * a * run_fr)))

    def turn(self, t_s: float, to_fps: float, full_change_s: float, fps: float) -> Profile:
        """From ``t_s`` on to ``to_fps``; ``full_change_s`` is the time for the whole of ``fps``."""
        x, v = self.at(t_s)
        change_s = full_change_s * abs(to_fps - v) / fps
        self.before = None  # one step back is enough: nothing is dated before the last edge but one
        return Profile(t_s, x, v, to_fps, change_s, self)
