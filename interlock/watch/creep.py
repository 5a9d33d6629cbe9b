"""How fast a loop is being used up: drift and its rate, of one link, estimated slowly and honestly.

Once a second the latest pulses of both machines give the drift, and a Kalman filter of (drift, rate, wander) follows it.
What the supply does to both machines cancels here, where a filter a machine would follow it. The model:

* the *rate* is what the two machines differ by for good. It is constant until something happens: two synchronous machines of
  one supply are locked to it, two crystals keep their difference for a show;
* the *wander* is what passes: an induction machine's slip goes with its load, and two supplies (or a crystal beside the
  mains) swing against each other. It forgets with a time constant (an Ornstein-Uhlenbeck process);
* a pulse is dated by a tick of a millisecond, cut off: ± half a tick, uniform, and the residue of the tick's mapping.

That something has happened to the rate is found by a two-sided CUSUM of the normalised innovations
(reference.md, k = 0.5: h = 13.386 is one false alarm in 24 · 86,400 samples); then the filter begins anew.
"""

from __future__ import annotations

import math

from interlock.showfile.show import House, Show
from interlock.watch.forecast import Z95, Times, passed, quantiles_s, time_to_limit_s
from interlock.watch.loop import Loop
from interlock.watch.machine import Machine

K = 0.5
H = 15.0
"""At one sample a second and fifteen links: fewer than one false alarm in a month of shows."""
RATE_SIGMA_FPS = 0.5
"""What is believed of a rate before anything was measured."""
TICK_S = 0.001
MAPPING_S = 0.00006
"""A tick of wire.md, and the 1-sigma with which ticks are mapped to the desk's time (design.md, measured)."""
LIKE_SHARE = 0.19
"""A tick cuts off alike until the pulses have swept about a fifth of it: the integral of a sawtooth's autocorrelation,
1 − 6u(1 − u), over its first lobe and both ways is 0.19 of its period."""
MEDIAN = 0.6745
"""Half of the time a normal variable is within this many of its sigmas."""
QUARTZ_SHARE = 0.00005
"""1-sigma of a crystal's error: it sweeps past the adapter's ticks slowly."""
SLIP_SHARE, SLIP_TAU_S = 0.25, 60.0
"""1-sigma of an induction machine's slip about its own mean, as a share of its tolerance, and how long a load lasts."""
SUPPLY_SHARE, SUPPLY_TAU_S = 0.0002, 300.0
"""1-sigma of the mains' frequency, and how long it remembers: the everyday state of a large grid."""
AT_SPEED_S = 3.0
FRESH_S = 0.5
MIN_SAMPLES = 8


def _wander(show: Show, up: House, down: House) -> tuple[float, float]:
    """(1-sigma in frames per second, time constant in seconds) of what passes in the difference of two machines' speeds."""
    parts = [
        ((SLIP_SHARE * h.speed_tolerance) ** 2, SLIP_TAU_S) for h in (up, down) if h.motor == "induction"
    ]
    driven = [h.supply for h in (up, down) if h.motor != "crystal"]
    if len(driven) == 1 or (len(driven) == 2 and driven[0] != driven[1]):
        parts += [(SUPPLY_SHARE**2, SUPPLY_TAU_S)] * len(driven)
    var = math.fsum(v for v, _ in parts)
    if var == 0.0:
        return 0.0, SLIP_TAU_S
    # One process for all: of the same variance, and of the same power at the slow end, which is what uses up a loop.
    return show.fps * math.sqrt(var), math.fsum(v * tau for v, tau in parts) / var


def _pulses_var(show: Show, up: House, down: House) -> float:
    """Variance of the difference of two pulses' dates, in frames², as it counts among one sample a second.

    A machine that creeps sweeps past the ticks, and each of its samples is cut off anew; one that keeps its speed
    passes them slowly, and what is cut off of one sample is cut off of the next as well.
    """
    off = max(QUARTZ_SHARE if h.motor == "crystal" else SUPPLY_SHARE for h in (up, down))
    alike = max(1.0, LIKE_SHARE * TICK_S / (MEDIAN * off))
    return show.fps**2 * (TICK_S**2 / 12.0 * (1.0 + alike) + 2.0 * MAPPING_S**2)


class Creep:
    """Drift and rate of one link. ``ready`` once there is something worth saying.

    ``rate_fps`` (variance ``prr``) lasts, ``wander_fps`` passes. ``span``: (5 %, 50 %, 95 %) seconds from ``t_s`` to the limit
    ahead; None where not bounded.
    """

    __slots__ = (
        "_high",
        "_low",
        "corr_fr",
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

    def __init__(self, r_var: float, wander_fps: float = 0.0, tau_s: float = SLIP_TAU_S) -> None:
        self.r_var, self.w_var, self.tau_s = r_var, wander_fps * wander_fps, tau_s
        self.corr_fr = 0.0
        self.reset()

    @classmethod
    def of(cls, show: Show, i: int) -> Creep:
        """For link ``i`` of the show, by its machines' kinds."""
        up, down = show.houses[i : i + 2]
        return cls(_pulses_var(show, up, down), *_wander(show, up, down))

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
        self._high = max(0.0, self._high + normal - K)
        self._low = max(0.0, self._low - normal - K)
        if self._high > H or self._low > H:
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
