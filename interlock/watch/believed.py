"""Where a machine is believed to be at any moment, and how surely: its profile and what it deviates from that, carried on."""

from __future__ import annotations

import math

from interlock.watch.profile import Profile

STEADY_Q = 1e-6
"""Spectral density of speed's random walk at speed, fps²/s: a supply that wanders by 0.05 % in some minutes."""
CHANGING_Q = 200.0
"""The same while a machine ramps or coasts, when the profile's shape is only roughly right."""


class Believed:
    """Frames run by one machine: the profile and the deviation from it, with variances.

    ``tolerance_fps``: 1-sigma by which the motor may run off. Frames are since the last ``rezero``.
    ``counted``: a counter is being heard.
    """

    __slots__ = (
        "coast_s",
        "counted",
        "dv",
        "dx",
        "edge_var",
        "fps",
        "memo",
        "memo_s",
        "profile",
        "pvv",
        "pxv",
        "pxx",
        "ramp_s",
        "ramp_sigma_fr",
        "tf_s",
        "tolerance_fps",
    )

    def __init__(
        self, fps: float, ramp_s: float, coast_s: float, ramp_scatter_s: float, tolerance_fps: float
    ) -> None:
        self.fps, self.ramp_s, self.coast_s, self.tolerance_fps = fps, ramp_s, coast_s, tolerance_fps
        self.ramp_sigma_fr = fps * ramp_scatter_s / 2.0
        self.profile = Profile(0.0, 0.0, 0.0, 0.0, 0.0)
        self.tf_s = 0.0
        self.dx = self.dv = self.pxx = self.pxv = self.pvv = 0.0
        self.counted = False
        self.edge_var = 0.0
        """Of ``pxx``: what date and length of the last ramp or coast leave open, frames² once it is over."""
        # Asked for the same moment by everything that looks at the machine then: worked out once.
        self.memo_s = math.nan
        self.memo = (0.0, 0.0, 0.0)

    def at(self, t_s: float) -> tuple[float, float, float]:
        """(frames run, frames per second, variance of the frames) at ``t_s``; changes nothing."""
        if t_s == self.memo_s:
            return self.memo
        p = self.profile
        dt = t_s - self.tf_s
        if dt >= 0.0 and p.v1 > 0.0 and self.tf_s >= p.settled_s:
            var = self.pxx + dt * (2.0 * self.pxv + dt * self.pvv)
            if self.counted:
                var += STEADY_Q * dt * dt * dt / 3.0
            found = (p.x1 + p.v1 * (t_s - p.steady_s) + self.dx + self.dv * dt, p.v1 + self.dv, var)
        elif p.v1 == 0.0 and dt > 0.0 and t_s >= p.steady_s and self._rests():
            found = (p.x1 + self.dx, 0.0, self.pxx)
        else:
            found = self._at_change(t_s, dt)
        self.memo_s = t_s
        self.memo = found
        return found

    def _rests(self) -> bool:
        # Nothing that was true of it when it was last folded changes by time: it had settled, or only its contact tells.
        return self.tf_s >= self.profile.settled_s or (
            not self.counted and self.dv == self.pxv == self.pvv == 0.0
        )

    def _at_change(self, t_s: float, dt: float) -> tuple[float, float, float]:
        # Before the newest that was folded, or while the machine ramps, coasts or stands.
        p = self.profile
        x, v = p.at(t_s)
        if dt < 0.0:
            return x + self.dx + self.dv * dt, v + self.dv, self.pxx
        moving_s = self._moving_s(dt)
        var = self.pxx + moving_s * (2.0 * self.pxv + moving_s * self.pvv)
        if self.edge_var and not self.counted and p.v0 != p.v1:
            # Dated wrongly, or slower than thought, it is off by the more the further it has come to its new speed.
            var -= self.edge_var * (1.0 - ((v - p.v0) / (p.v1 - p.v0)) ** 2)
        if self.counted:
            changing_s = min(moving_s, max(0.0, p.settled_s - self.tf_s))
            var += (CHANGING_Q * changing_s**3 + STEADY_Q * moving_s**3) / 3.0
        v = v + self.dv if moving_s == dt else v
        if p.v1 == 0.0 and self.dv < 0.0:
            then = p.at(self.tf_s)[0]
            return max(x + self.dv * moving_s, then) + self.dx, max(v, 0.0), var
        return x + self.dx + self.dv * moving_s, v, var

    def _moving_s(self, dt: float) -> float:
        # A machine that was cut has no speed to be off by, once it stands.
        if self.profile.v1 > 0.0:
            return dt
        left_s = self.profile.settled_s - self.tf_s
        if left_s >= dt:
            return dt
        return left_s if left_s > 0.0 else 0.0

    def _predict(self, t_s: float) -> None:
        dt = t_s - self.tf_s
        if dt <= 0.0:
            return
        moving_s = self._moving_s(dt)
        if moving_s > 0.0:
            back_fr = self.dv * moving_s
            if self.profile.v1 == 0.0 and back_fr < 0.0:
                back_fr = max(back_fr, self.profile.at(self.tf_s)[0] - self.profile.at(t_s)[0])
            self.dx += back_fr
            self.pxx += moving_s * (2.0 * self.pxv + moving_s * self.pvv)
            self.pxv += moving_s * self.pvv
            if self.counted:
                # The random walk of speed makes sense only where a counter tames it: without one the
                # variance of the speed is the motor's own tolerance and stays so.
                changing_s = min(moving_s, max(0.0, self.profile.settled_s - self.tf_s))
                for span_s, q in ((changing_s, CHANGING_Q), (moving_s - changing_s, STEADY_Q)):
                    self.pxx += q * span_s**3 / 3.0
                    self.pxv += q * span_s**2 / 2.0
                    self.pvv += q * span_s
        if moving_s < dt:
            self.dv = self.pxv = self.pvv = 0.0
        self.tf_s = t_s
