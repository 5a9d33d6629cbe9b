"""How a machine moves, as its contact alone tells it, and how far a counter says it is from that.

A motor contact gives a *profile*: at speed ``fps`` after a linear ramp, at a standstill after a linear coast.
What is left is slow: a motor a little fast or slow, a ramp a little long. So the filter follows only
the *deviation* from the profile (frames, frames per second), with a Kalman filter of two states.
With no counter the deviation stays what it was believed to be and its variance grows by the motor's
tolerance; with one, every pulse (dated by its own tick) is a measurement. One thing for both.
"""

from __future__ import annotations

import math

from interlock.watch.believed import STEADY_Q, Believed
from interlock.watch.profile import Profile

PULSE_SIGMA_FR = 0.03
"""1-sigma of a pulse's date in frames at 24 fps: a tick of 1 ms and the tick mapping's residue."""
BACK_S = 1.0
"""A pulse that is dated so long before the newest that was folded says nothing any more of a machine that turns."""
SHIFT_SHARE = 0.01
"""1-sigma of a supply's shift in a gap, as a share of speed: a generator that takes over is off by so much."""
GATE = 25.0
"""Squared sigmas of innovation beyond which speed is taken to have changed at once."""


class Motion(Believed):
    """What moves it: the contact's edges, the counter's pulses, and hands."""

    __slots__ = ()

    def rezero(self, t_s: float, turning: bool) -> None:
        """Frames count from here: what was run before was jogged while threading."""
        v = self.fps if turning else 0.0
        self.memo_s = math.nan
        self.profile = Profile(t_s, 0.0, v, v, 0.0)
        self.tf_s = t_s
        self.dx = self.dv = self.pxx = self.pxv = 0.0
        self.pvv = self.tolerance_fps**2 if turning else 0.0

    def edge(self, t_s: float, turning: bool, date_sigma_s: float = 0.0) -> None:
        """The motor contact changed at ``t_s``, dated within ``date_sigma_s``."""
        tf_s = max(self.tf_s, t_s)
        self.memo_s = math.nan
        self._predict(tf_s)
        x = self.profile.at(tf_s)[0] + self.dx
        if turning:
            self.profile = self.profile.turn(t_s, self.fps, self.ramp_s, self.fps)
            self.pvv = self.tolerance_fps**2
            coast_var = 0.0
        else:
            self.profile = self.profile.turn(t_s, 0.0, self.coast_s, self.fps)
            self.pvv = 0.0
            # It may be pulled to a stop at once by the film, or run on for twice its coast.
            coast_var = (0.29 * self.fps * self.coast_s) ** 2
        self.dx = x - self.profile.at(tf_s)[0]
        self.dv = self.pxv = 0.0
        self.edge_var = self.ramp_sigma_fr**2 + (self.fps * date_sigma_s) ** 2 + coast_var
        self.pxx += self.edge_var

    def halt(self, t_s: float) -> None:
        """It stands since ``t_s``, by its counter's word: nothing is left to coast."""
        x, _, var = self.at(t_s)
        self.memo_s = math.nan
        self.profile = Profile(t_s, x, 0.0, 0.0, 0.0)
        self.tf_s = t_s
        self.dx = self.dv = self.pxv = self.pvv = 0.0
        self.pxx = var

    def rests_at(self, frames: float, sigma_fr: float) -> None:
        """It has stopped, and its counter tells where: nothing is left to coast."""
        self.memo_s = math.nan
        self.profile = Profile(self.tf_s, frames, 0.0, 0.0, 0.0)
        self.dx = self.dv = self.pxv = self.pvv = 0.0
        self.pxx = sigma_fr * sigma_fr

    def pulse(self, t_s: float, frames: float, sigma_fr: float = PULSE_SIGMA_FR) -> None:
        """A counter's pulse at ``t_s`` says that ``frames`` have been run."""
        self.memo_s = math.nan
        p = self.profile
        dt = t_s - self.tf_s
        if dt > 0.0 and self.counted and p.v1 > 0.0 and self.tf_s >= p.settled_s:
            # At speed, pulse after pulse: the same as below, written out, for it is what a desk does most of the time.
            dv, pxv, pvv = self.dv, self.pxv, self.pvv
            q = STEADY_Q * dt
            dx = self.dx + dv * dt
            pxx = self.pxx + dt * (2.0 * pxv + dt * (pvv + q / 3.0))
            pxv += dt * (pvv + q / 2.0)
            innovation = frames - (p.x1 + p.v1 * (t_s - p.steady_s)) - dx
            s = pxx + sigma_fr * sigma_fr
            if innovation * innovation <= GATE * s:
                k_x, k_v = pxx / s, pxv / s
                self.tf_s = t_s
                self.dx = dx + k_x * innovation
                self.dv = dv + k_v * innovation
                self.pvv = pvv + q - k_v * pxv
                self.pxv = pxv * (1.0 - k_x)
                self.pxx = pxx * (1.0 - k_x)
                return
        self._pulse_anyhow(t_s, frames, sigma_fr)

    def _pulse_anyhow(self, t_s: float, frames: float, sigma_fr: float) -> None:
        p = self.profile
        back_s = self.tf_s - t_s
        if back_s > 0.0:
            # Dated before the last edge or pulse: true of that moment, carried forward by the speed believed.
            if back_s > BACK_S:
                return
            x_then, _ = p.at(t_s)
            x_now, _ = p.at(self.tf_s)
            frames += x_now - x_then + self.dv * back_s
        else:
            self._predict(t_s)
            x_now, _ = p.at(t_s)
        r = sigma_fr * sigma_fr
        self.counted = True
        self.edge_var = 0.0  # it is the pulses now that date what happened
        innovation = frames - x_now - self.dx
        s = self.pxx + r
        if innovation * innovation > GATE * s:
            self.pvv += (0.1 * self.fps) ** 2
            self.pxx += innovation * innovation
            s = self.pxx + r
        k_x = self.pxx / s
        k_v = self.pxv / s
        self.dx += k_x * innovation
        self.dv += k_v * innovation
        self.pvv -= k_v * self.pxv
        self.pxv *= 1.0 - k_x
        self.pxx *= 1.0 - k_x
        if p.v1 == 0.0:
            self.dv = max(self.dv, -p.at(self.tf_s)[1])  # a machine that was cut never runs backwards

    def carry(self, frames: float) -> None:
        """Film passed by hand: so many frames are in the gate more than the motor ran."""
        self.dx += frames
        self.memo_s = math.nan

    def doubt_speed(self, t_s: float, moved_fr: float = 0.0) -> None:
        """Until ``t_s`` nothing sure was heard of it for a while: its supply may have shifted meanwhile.

        ``moved_fr``: 1-sigma of what its position was told wrong by.
        """
        self._predict(t_s)
        self.pxx += moved_fr * moved_fr
        self.pvv += (SHIFT_SHARE * self.fps) ** 2
        self.memo_s = math.nan

    def uncounted(self) -> None:
        """Its counter is not heard any longer."""
        self.counted = False
        self.memo_s = math.nan
