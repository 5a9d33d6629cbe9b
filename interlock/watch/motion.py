"""How a machine moves, as its contact alone tells it, and how far a counter says it is from that.

A motor contact gives a *profile*: at speed ``fps`` after a linear ramp, at a standstill after a linear coast.
What is left is slow: a motor a little fast or slow, a ramp a little long. So the filter follows only
the *deviation* from the profile (frames, frames per second), with a Kalman filter of two states.
With no counter the deviation stays what it was believed to be and its variance grows by the motor's
tolerance; with one, every pulse (dated by its own tick) is a measurement. One thing for both.
"""

from __future__ import annotations

PULSE_SIGMA_FR = 0.03
"""1-sigma of a pulse's date in frames at 24 fps: a tick of 1 ms and the tick mapping's residue."""
STEADY_Q = 1e-6
"""Spectral density of speed's random walk at speed, fps²/s: a supply that wanders by 0.05 % in some minutes."""
CHANGING_Q = 200.0
"""The same while a machine ramps or coasts, when the profile's shape is only roughly right."""
SETTLE_S = 0.5
"""How long after ramp or coast a machine is still taken to be changing."""
GATE = 25.0
"""Squared sigmas of innovation beyond which speed is taken to have changed at once."""


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

    def turn(self, t_s: float, to_fps: float, full_change_s: float, fps: float) -> Profile:
        """From ``t_s`` on to ``to_fps``; ``full_change_s`` is the time for the whole of ``fps``."""
        x, v = self.at(t_s)
        change_s = full_change_s * abs(to_fps - v) / fps
        self.before = None  # one step back is enough: nothing is dated before the last edge but one
        return Profile(t_s, x, v, to_fps, change_s, self)


class Motion:
    """Frames run by one machine: the profile and the deviation from it, with variances.

    ``tolerance_fps``: 1-sigma by which the motor may run off. Frames are since :meth:`rezero`.
    ``counted``: a counter is being heard.
    """

    __slots__ = (
        "coast_s",
        "counted",
        "dv",
        "dx",
        "fps",
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

    def rezero(self, t_s: float, turning: bool) -> None:
        """Frames count from here: what was run before was jogged while threading."""
        v = self.fps if turning else 0.0
        self.profile = Profile(t_s, 0.0, v, v, 0.0)
        self.tf_s = t_s
        self.dx = self.dv = self.pxx = self.pxv = 0.0
        self.pvv = self.tolerance_fps**2 if turning else 0.0

    def edge(self, t_s: float, turning: bool, date_sigma_s: float = 0.0) -> None:
        """The motor contact changed at ``t_s``, dated within ``date_sigma_s``."""
        tf_s = max(self.tf_s, t_s)
        self._predict(tf_s)
        x = self.profile.at(tf_s)[0] + self.dx
        if turning:
            self.profile = self.profile.turn(t_s, self.fps, self.ramp_s, self.fps)
            self.pvv = self.tolerance_fps**2
        else:
            self.profile = self.profile.turn(t_s, 0.0, self.coast_s, self.fps)
            self.pvv = 0.0
            # It may be pulled to a stop at once by the film, or run on for twice its coast.
            self.pxx += (0.29 * self.fps * self.coast_s) ** 2
        self.dx = x - self.profile.at(tf_s)[0]
        self.dv = self.pxv = 0.0
        self.pxx += self.ramp_sigma_fr**2 + (self.fps * date_sigma_s) ** 2

    def halt(self, t_s: float) -> None:
        """It stands since ``t_s``, by its counter's word: nothing is left to coast."""
        x, _, var = self.at(t_s)
        self.profile = Profile(t_s, x, 0.0, 0.0, 0.0)
        self.tf_s = t_s
        self.dx = self.dv = self.pxv = self.pvv = 0.0
        self.pxx = var

    def pulse(self, t_s: float, frames: float, sigma_fr: float = PULSE_SIGMA_FR) -> None:
        """A counter's pulse at ``t_s`` says that ``frames`` have been run."""
        back_s = self.tf_s - t_s
        p = self.profile
        if back_s < 0.0 and self.counted and p.v1 > 0.0 and self.tf_s >= p.settled_s:
            # At speed, pulse after pulse: the same as below, written out, for it is what a desk does most of the time.
            dt = -back_s
            self.tf_s = t_s
            self.dx += self.dv * dt
            q = STEADY_Q * dt
            self.pxx += dt * (2.0 * self.pxv + dt * (self.pvv + q / 3.0))
            self.pxv += dt * (self.pvv + q / 2.0)
            self.pvv += q
            x_now = p.x1 + p.v1 * (t_s - p.steady_s)
        elif back_s > 0.0:
            # Dated before the last edge or pulse: true of that moment, carried forward by the speed believed.
            if back_s > 1.0:
                return
            x_then, _ = p.at(t_s)
            x_now, _ = p.at(self.tf_s)
            frames += x_now - x_then + self.dv * back_s
        else:
            self._predict(t_s)
            x_now, _ = p.at(t_s)
        r = sigma_fr * sigma_fr
        self.counted = True
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

    def widen(self, sigma_fr: float) -> None:
        """Something of this size is not known any longer (a gap, a restart)."""
        self.pxx += sigma_fr * sigma_fr

    def at(self, t_s: float) -> tuple[float, float, float]:
        """(frames run, frames per second, variance of the frames) at ``t_s``; changes nothing."""
        p = self.profile
        dt = t_s - self.tf_s
        if dt >= 0.0 and p.v1 > 0.0 and self.tf_s >= p.settled_s:
            var = self.pxx + dt * (2.0 * self.pxv + dt * self.pvv)
            if self.counted:
                var += STEADY_Q * dt * dt * dt / 3.0
            return p.x1 + p.v1 * (t_s - p.steady_s) + self.dx + self.dv * dt, p.v1 + self.dv, var
        x, v = p.at(t_s)
        if dt <= 0.0:
            return x + self.dx + self.dv * dt, v + self.dv, self.pxx
        moving_s = self._moving_s(dt)
        var = self.pxx + moving_s * (2.0 * self.pxv + moving_s * self.pvv)
        if self.counted:
            changing_s = min(moving_s, max(0.0, self.profile.settled_s - self.tf_s))
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
        return min(dt, max(0.0, self.profile.settled_s - self.tf_s))

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
