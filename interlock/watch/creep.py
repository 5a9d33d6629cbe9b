"""How fast a loop is being used up: drift and its rate, of one link, estimated slowly and honestly.

Once a second the latest pulses of both machines give the drift; a Kalman filter of (drift, rate) that
forgets next to nothing gives the rate that a forecast needs. What the supply does to both machines cancels here, where a
filter a machine would follow it. A change of speed is found by a two-sided CUSUM of the normalised innovations
(reference.md, k = 0.5: h = 13.386 is one false alarm in 24 · 86,400 samples); then the filter begins anew.
"""

from __future__ import annotations

import math

from interlock.watch.loop import Loop
from interlock.watch.machine import Machine

K = 0.5
H = 14.0
"""At one sample a second and fifteen links: fewer than one false alarm in a month of shows."""
RATE_Q = 1e-9
"""fps²/s: two machines of one kind keep their difference for a show."""
WANDER_Q = 1e-6
"""The same with an induction machine in it, whose slip goes with its load, or between two supplies."""
RATE_SIGMA_FPS = 0.5
"""What is believed of a rate before anything was measured."""
PULSE_VAR = 2.0 * 0.012**2
"""Of the difference of two pulses' dates in frames: a millisecond's tick each, and the mapping's residue."""
AT_SPEED_S = 3.0
FRESH_S = 0.5
MIN_SAMPLES = 8


class Creep:
    """Drift and rate of one link. ``ready`` once there is something worth saying."""

    __slots__ = ("_high", "_low", "corr_fr", "d_fr", "pdd", "pdr", "prr", "q", "rate_fps", "samples", "t_s")

    def __init__(self, *, wanders: bool) -> None:
        self.q = WANDER_Q if wanders else RATE_Q
        self.corr_fr = 0.0
        self.reset()

    def reset(self) -> None:
        """Nothing is known."""
        self.samples = 0
        self.t_s = -math.inf
        self.d_fr = self.rate_fps = 0.0
        self.pdd, self.pdr, self.prr = PULSE_VAR, 0.0, RATE_SIGMA_FPS**2
        self._high = self._low = 0.0

    @property
    def ready(self) -> bool:
        """Whether it has seen enough."""
        return self.samples >= MIN_SAMPLES

    def second(self, t_s: float, loop: Loop) -> None:
        """One second has passed."""
        z = _drift_by_pulses(t_s, loop)
        if z is None:
            if self.samples:
                self.reset()
            return
        z += loop.corr_fr
        # What an arm or a person says of the loop moves its level and tells nothing of its rate.
        self.d_fr += loop.corr_fr - self.corr_fr
        self.corr_fr = loop.corr_fr
        if self.samples == 0:
            self.d_fr, self.t_s, self.samples = z, t_s, 1
            return
        self._update(t_s - self.t_s, z)
        self.t_s = t_s

    def _update(self, dt: float, z: float) -> None:
        self.d_fr += self.rate_fps * dt
        self.pdd += dt * (2.0 * self.pdr + dt * self.prr) + self.q * dt**3 / 3.0
        self.pdr += dt * self.prr + self.q * dt**2 / 2.0
        self.prr += self.q * dt
        s = self.pdd + PULSE_VAR
        innovation = z - self.d_fr
        normal = innovation / math.sqrt(s)
        self._high = max(0.0, self._high + normal - K)
        self._low = max(0.0, self._low - normal - K)
        if self._high > H or self._low > H:
            self.reset()
            self.d_fr, self.samples = z, 1
            return
        k_d, k_r = self.pdd / s, self.pdr / s
        self.d_fr += k_d * innovation
        self.rate_fps += k_r * innovation
        self.prr -= k_r * self.pdr
        self.pdr *= 1.0 - k_d
        self.pdd *= 1.0 - k_d
        self.samples += 1


def _drift_by_pulses(t_s: float, loop: Loop) -> float | None:
    """Raw drift from the two latest pulses; None unless both machines are counted and 3 s at speed."""
    if not loop.judged or loop.unknown:
        return None
    up = _by_pulse(t_s, loop.up)
    down = _by_pulse(t_s, loop.down)
    return None if up is None or down is None else up - down


def _by_pulse(t_s: float, m: Machine) -> float | None:
    c, motion = m.counter, m.motion
    if not c.known or m.doubt_since_s is not None or m.turning is not True or m.start_s is None:
        return None
    if t_s < motion.profile.steady_s + AT_SPEED_S or t_s - c.last_pulse_s > FRESH_S or c.anchor_anew:
        return None
    return c.last_fr - c.base_fr + (t_s - c.last_pulse_s) * (motion.profile.v1 + motion.dv)
