"""Drift from marks: one splice, marked in two neighbouring gates, measures what lies between them without a counter.

Film between two sprockets is conserved: frame(k) − frame(k+1) = path + drift. While a splice goes from one gate to the
next, the upstream machine runs off just that, so (frames run in between) − (surveyed path) = drift + the survey's error. One
pair cannot tell these two apart, and moves the drift only as far as the survey is trusted; a second one can, for
the survey's error stays what it was. A Kalman filter a link follows the three: drift beyond its machines' word, rate, survey's
error. A mark alone never moves a drift.

It serves machines without counters; a counter knows better. It holds until a machine starts or stops, is counted, or the
loop is measured otherwise: then what the machines say holds again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from interlock.watch.apart import SLIP_SHARE, SLIP_TAU_S

if TYPE_CHECKING:
    from interlock.watch.loop import Loop

REACTION_S = 0.25
"""1-sigma between two persons' keys on the same sight; what both take alike to react cancels (common practice, no source)."""
SUPPLY_SHARE = 0.0005
"""As in loop.py: two supplies (or a crystal beside the mains) may be apart by this share of speed."""
GATE = 25.0
"""A pair further off than five sigmas is another splice, or another house."""
KEPT = 16
"""Splices on their way to the next gate."""


class Marks:
    """What marks have told of one link. ``Loop.drift`` adds :meth:`at`."""

    __slots__ = ("_base", "_on_way", "b", "d", "pbb", "pdb", "pdd", "pdr", "prb", "prr", "r", "s2", "t_s")

    def __init__(self) -> None:
        self._on_way: dict[float, tuple[float, float]] = {}
        """Frame of the print → (desk second, frames that the upstream machine had run) when it was in that gate."""
        self._base: tuple[object, ...] | None = None

    def upstream(self, t_s: float, frame: float, loop: Loop) -> None:
        """That frame is in the upstream gate."""
        self._on_way.pop(frame, None)
        self._on_way[frame] = (t_s, loop.up.motion.at(t_s)[0])
        while len(self._on_way) > KEPT:
            del self._on_way[next(iter(self._on_way))]

    def downstream(self, t_s: float, frame: float, loop: Loop) -> None:
        """That frame is in the downstream gate: with its mark upstream, a pair."""
        left = self._on_way.pop(frame, None)
        base = _base(loop)
        if left is None or base is None or loop.phase != "running" or t_s <= max(left[0], _at_speed_s(loop)):
            return
        if loop.machines_say(t_s) is None:
            return  # while the other machine is not heard it may have stopped
        if self._base != base:
            self._begin(base, loop, t_s - left[0])
        self._predict(t_s)
        up, down = loop.up.motion, loop.down.motion
        run_fr = up.at(t_s)[0] - left[1]
        raw_fr = up.at(t_s)[0] - down.at(t_s)[0] + loop.corr_fr
        innovation = run_fr - loop.link.path_fr - raw_fr - self.d - self.b
        s = self.pdd + 2.0 * self.pdb + self.pbb + 2.0 * (REACTION_S * up.fps) ** 2
        if innovation * innovation > GATE * s:
            return
        g_d, g_r, g_b = self.pdd + self.pdb, self.pdr + self.prb, self.pdb + self.pbb
        self.d += g_d / s * innovation
        self.r += g_r / s * innovation
        self.b += g_b / s * innovation
        self.pdd -= g_d * g_d / s
        self.pdr -= g_d * g_r / s
        self.pdb -= g_d * g_b / s
        self.prr -= g_r * g_r / s
        self.prb -= g_r * g_b / s
        self.pbb -= g_b * g_b / s

    def at(self, t_s: float, loop: Loop) -> tuple[float, float, float] | None:
        """(frames beyond the machines' word, fps likewise, variance of the drift) at ``t_s``; None where nothing is told."""
        if self._base is None:
            return None
        if self._base != _base(loop):
            self._base = None
            return None
        dt = t_s - self.t_s
        if dt < 0.0:
            return None
        return self.d + self.r * dt, self.r, self.pdd + dt * (2.0 * self.pdr + dt * self.prr + self.s2)

    def _begin(self, base: tuple[object, ...], loop: Loop, way_s: float) -> None:
        """As sure as the machines' contacts and tolerances make it, from when the later of the two came to its speed."""
        up, down, link = loop.up.motion, loop.down.motion, loop.link
        self._base = base
        # Not before both are at speed: a start that is dated wrongly is off by nothing while the machine has yet to run up.
        self.t_s = _at_speed_s(loop)
        raw = loop.machines_say(self.t_s)
        self.d = self.r = self.b = self.pdr = self.pdb = self.prb = 0.0
        self.pdd = raw.var if raw is not None else 0.0
        supply_var = (SUPPLY_SHARE * up.fps) ** 2 if loop.other_supply else 0.0
        self.prr = up.pvv + down.pvv + supply_var
        self.pbb = (link.path_tolerance * link.path_fr) ** 2 + up.pvv * way_s * way_s
        # Slip that comes and goes with the load adds up like a random walk of the drift.
        slip_var = SLIP_SHARE**2 * (up.tolerance_fps**2 + down.tolerance_fps**2)
        self.s2 = 2.0 * SLIP_TAU_S * slip_var

    def _predict(self, t_s: float) -> None:
        dt = t_s - self.t_s
        self.t_s = t_s
        self.d += self.r * dt
        self.pdd += dt * (2.0 * self.pdr + dt * self.prr + self.s2)
        self.pdr += dt * self.prr
        self.pdb += dt * self.prb


def _at_speed_s(loop: Loop) -> float:
    """When the later of its two machines came to its speed."""
    return max(max(m.tf_s, m.profile.settled_s) for m in (loop.up.motion, loop.down.motion))


def _base(loop: Loop) -> tuple[object, ...] | None:
    """On what a filter stands: the same runs of both machines, neither counted, and no other measure of the loop since."""
    up, down = loop.up.motion, loop.down.motion
    if up.counted or down.counted or up.profile.v1 == 0.0 or down.profile.v1 == 0.0:
        return None
    return up.profile.t0_s, down.profile.t0_s, loop.corr_fr, loop.corr_var
