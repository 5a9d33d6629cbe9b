"""How fast a loop is being used up: drift and its rate, of one link, estimated slowly and honestly.

Once a second the latest pulses of both machines give the drift, and a Kalman filter of (drift, rate, wander) follows it.
What the supply does to both machines cancels here, where a filter a machine would follow it. The model:

* the *rate* is what the two machines differ by for good. It is constant until something happens: two synchronous machines of
  one supply are locked to it, two crystals keep their difference for a show;
* the *wander* is what passes: an induction machine's slip goes with its load, and two supplies (or a crystal beside the
  mains) swing against each other. It forgets with a time constant (an Ornstein-Uhlenbeck process);
* a pulse is dated by a tick of a millisecond, cut off: ± half a tick, uniform, and the residue of the tick's mapping.

That something has happened to the rate is found by a two-sided CUSUM of the normalised innovations
(reference.md, k = 0.5: h = 13.386 is one false alarm in 24 · 86,400 samples); then the filter begins anew. What ticks cut off
stands outside of that law: two machines of one supply may keep their places within a tick for minutes, and it is one-sided
without end. But it has bounds, and a rate that has changed passes them: so both are asked for.
"""

from __future__ import annotations

import math

from interlock.showfile.show import Show
from interlock.watch.apart import SLIP_TAU_S, TICK_S, pulses_var, wander
from interlock.watch.forecast import Z95, Times, passed, quantiles_s, time_to_limit_s
from interlock.watch.loop import Loop
from interlock.watch.machine import Machine

K = 0.5
H = 15.0
"""At one sample a second and fifteen links: fewer than one false alarm in a month of shows."""
CUT_OFF = 1.5
"""No two pulses' dates differ by more than a tick from what is cut off of them on average, and half of one is for the average
(which may be of minutes when it was another) and the mapping's residue, of two pulses nearly six of its sigmas."""
RATE_SIGMA_FPS = 0.5
"""What is believed of a rate before anything was measured."""
AT_SPEED_S = 3.0
FRESH_S = 0.5
FRESH_PULSES = 1.5
"""A pulse tells where its machine is now if it is no older than this, in seconds, or in times from pulse to pulse."""
MIN_SAMPLES = 8


class Creep:
    """Drift and rate of one link. ``ready`` once there is something worth saying.

    ``rate_fps`` (variance ``prr``) lasts, ``wander_fps`` passes. ``span``: (5 %, 50 %, 95 %) seconds from ``t_s`` to the limit
    ahead; None where not bounded.
    """

    __slots__ = (
        "_high",
        "_low",
        "corr_fr",
        "cut_off_fr",
        "d_fr",
        "pdd",
        "pdr",
        "pdw",
        "prr",
        "prw",
        "pww",
        "r_var",
        "rate_fps",
        "samples",
        "span",
        "t_s",
        "tau_s",
        "w_var",
        "wander_fps",
    )

    def __init__(
        self, r_var: float, wander_fps: float = 0.0, tau_s: float = SLIP_TAU_S, cut_off_fr: float = 0.0
    ) -> None:
        self.r_var, self.w_var, self.tau_s = r_var, wander_fps * wander_fps, tau_s
        self.cut_off_fr = cut_off_fr
        self.corr_fr = 0.0
        self.reset()

    @classmethod
    def of(cls, show: Show, i: int) -> Creep:
        """For link ``i`` of the show, by its machines' kinds."""
        up, down = show.houses[i : i + 2]
        return cls(pulses_var(show, up, down), *wander(show, up, down), show.fps * TICK_S * CUT_OFF)

    def reset(self) -> None:
        """Nothing is known."""
        self._begin(-math.inf, 0.0, 0)

    def _begin(self, t_s: float, d_fr: float, samples: int) -> None:
        self.samples, self.t_s = samples, t_s
        self.d_fr, self.rate_fps, self.wander_fps = d_fr, 0.0, 0.0
        self.pdd, self.prr, self.pww = self.r_var, RATE_SIGMA_FPS**2, self.w_var
        self.pdr = self.pdw = self.prw = 0.0
        self._high = self._low = 0.0
        self.span: Times | None = None

    @property
    def ready(self) -> bool:
        """Whether it has seen enough."""
        return self.samples >= MIN_SAMPLES

    def second(self, t_s: float, loop: Loop) -> None:
        """One second has passed."""
        up, down = loop.up, loop.down
        if not (loop.judged and not loop.unknown and _keeps(t_s, up) and _keeps(t_s, down)):
            if self.samples:
                self.reset()
            return
        if not (_fresh(t_s, up) and _fresh(t_s, down)):
            return  # words that are late or lost make no machine another one
        z = _by_pulse(t_s, up) - _by_pulse(t_s, down) + loop.corr_fr
        # What an arm or a person says of the loop moves its level and tells nothing of its rate.
        self.d_fr += loop.corr_fr - self.corr_fr
        self.corr_fr = loop.corr_fr
        if self.samples == 0:
            self.start(t_s, z)
            return
        self.sample(t_s, z)
        self.span = self._span(loop) if self.ready else None

    def start(self, t_s: float, drift_fr: float) -> None:
        """The first sample: nothing is known of the rate."""
        self._begin(t_s, drift_fr, 1)

    def sample(self, t_s: float, drift_fr: float) -> None:
        """The next: a drift measured at ``t_s``, later than the one before."""
        self._predict(t_s - self.t_s)
        self.t_s = t_s
        self._update(drift_fr)

    def _predict(self, dt: float) -> None:
        self.d_fr += self.rate_fps * dt
        self.pdd += dt * (2.0 * self.pdr + dt * self.prr)
        self.pdr += dt * self.prr
        if self.w_var == 0.0:
            return
        tau, keep = self.tau_s, math.exp(-dt / self.tau_s)
        g = tau * (1.0 - keep)
        self.d_fr += self.wander_fps * g
        self.wander_fps *= keep
        self.pdd += g * (2.0 * (self.pdw + dt * self.prw) + g * self.pww)
        self.pdd += self.w_var * _wandered(dt, tau)
        self.pdr += g * self.prw
        self.pdw = keep * (self.pdw + dt * self.prw + g * self.pww) + self.w_var * g * (1.0 - keep)
        self.prw *= keep
        self.pww = keep * keep * self.pww + self.w_var * (1.0 - keep * keep)

    def _update(self, z: float) -> None:
        s = self.pdd + self.r_var
        innovation = z - self.d_fr
        normal = innovation / math.sqrt(s)
        self._high = min(H, max(0.0, self._high + normal - K))
        self._low = min(H, max(0.0, self._low - normal - K))
        if (self._high if innovation > 0.0 else self._low) >= H and abs(innovation) > self.cut_off_fr:
            self._begin(self.t_s, z, 1)
            return
        k_d, k_r, k_w = self.pdd / s, self.pdr / s, self.pdw / s
        self.d_fr += k_d * innovation
        self.rate_fps += k_r * innovation
        self.wander_fps += k_w * innovation
        self.prr -= k_r * self.pdr
        self.prw -= k_r * self.pdw
        self.pww -= k_w * self.pdw
        self.pdr *= 1.0 - k_d
        self.pdw *= 1.0 - k_d
        self.pdd *= 1.0 - k_d
        self.samples += 1

    def _span(self, loop: Loop) -> Times | None:
        spills = self.rate_fps >= 0.0
        sign = 1.0 if spills else -1.0
        x, rate, wander = sign * self.d_fr, sign * self.rate_fps, sign * self.wander_fps
        limit = loop.link.spill_fr if spills else loop.link.tight_fr
        # Where the loop stood when counting began no pulse can tell, and it is no part of what pulses measure.
        pdd = self.pdd + _level_var(loop)
        if self.w_var == 0.0:
            return time_to_limit_s(x, rate, limit, pdd, self.pdr, self.prr)
        gap, tau = limit - x, self.tau_s
        if rate <= Z95 * math.sqrt(self.prr):
            return None
        if gap <= 0.0:
            return (0.0, 0.0, 0.0)

        def reached(t: float) -> float:
            g = tau * (1.0 - math.exp(-t / tau))
            var = (
                pdd
                + t * (2.0 * self.pdr + t * self.prr)
                + g * (2.0 * (self.pdw + t * self.prw) + g * self.pww)
            )
            return passed(gap, rate * t + wander * g, var, self.w_var * _wandered(t, tau))

        return quantiles_s(reached, gap / rate)


def _level_var(loop: Loop) -> float:
    return loop.corr_var + max(0.0, loop.up.bias_var + loop.down.bias_var - loop.less_var)


def _wandered(t_s: float, tau_s: float) -> float:
    """Variance of the integral, over ``t_s``, of an Ornstein-Uhlenbeck process of variance 1 that begins at 0."""
    e = math.exp(-t_s / tau_s)
    return tau_s * tau_s * (2.0 * t_s / tau_s - 3.0 + 4.0 * e - e * e)


def _keeps(t_s: float, m: Machine) -> bool:
    """Whether it keeps the speed it came to: for 3 s, as far as is known, with nothing that speaks against its counts."""
    if m.doubt_since_s is not None or m.turning is False or m.start_s is None or m.counter.anchor_anew:
        return False
    return t_s >= m.motion.profile.steady_s + AT_SPEED_S


def _fresh(t_s: float, m: Machine) -> bool:
    """Whether its latest pulse tells where it is now."""
    c = m.counter
    old_s, every_s = t_s - c.last_pulse_s, c.frames_per_pulse / m.motion.fps
    if not c.known or m.turning is not True or t_s < c.settled_s:
        return False
    return old_s <= max(FRESH_S, FRESH_PULSES * every_s)


def _by_pulse(t_s: float, m: Machine) -> float:
    """Frames run at ``t_s``, by the latest pulse alone."""
    c, motion = m.counter, m.motion
    return c.last_fr - c.base_fr + (t_s - c.last_pulse_s) * (motion.profile.v1 + motion.dv)
