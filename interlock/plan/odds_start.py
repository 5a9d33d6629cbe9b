"""The odds that a show's start holds, and the scatter that its timers may have. Exact; see
:mod:`interlock.plan.odds_exact`.

House k is worth ``e_k ~ N(start_delay + ramp/2, start_scatter² + ramp_scatter²/4)`` seconds, all
independent: a linear ramp of r seconds loses r/2 seconds of film. A link drifts by
``fps·(e_downstream − e_upstream)`` frames: a late downstream machine lets the loop grow, towards spill.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from interlock.plan.odds_exact import Lateness, chain_holds
from interlock.showfile.show import Show

_ROOT_STEPS = 60
_SCAN = 16


@dataclass(frozen=True, slots=True)
class Chain:
    """A show as its start sees it: one ``Lateness`` a house, limits in seconds for each pair of neighbours.

    ``ramp_sd_s``: the share of each house's deviation that does not come from its start timer.
    """

    machines: tuple[Lateness, ...]
    ramp_sd_s: tuple[float, ...]
    tight_s: tuple[float, ...]
    spill_s: tuple[float, ...]

    def holds(self) -> float:
        """The probability that no link is beyond a limit with all machines at speed."""
        return chain_holds(self.machines, self.tight_s, self.spill_s)

    def link_holds(self, k: int) -> float:
        """The same for link k alone, whatever the others do."""
        return chain_holds(self.machines[k : k + 2], self.tight_s[k : k + 1], self.spill_s[k : k + 1])

    def with_scatter(self, k: int, start_scatter_s: float) -> Chain:
        """With another start timer in house k."""
        sd_s = math.hypot(start_scatter_s, self.ramp_sd_s[k])
        machines = [replace(m, sd_s=sd_s) if i == k else m for i, m in enumerate(self.machines)]
        return replace(self, machines=tuple(machines))

    def with_common_scatter(self, start_scatter_s: float) -> Chain:
        """With the same start timer in every house; delays and ramps stay what they are."""
        machines = (
            replace(m, sd_s=math.hypot(start_scatter_s, r))
            for m, r in zip(self.machines, self.ramp_sd_s, strict=True)
        )
        return replace(self, machines=tuple(machines))

    def with_loop(self, k: int, more_s: float) -> Chain:
        """With a longer loop in link k: ``more_s`` more before either limit."""

        def longer(limits: Sequence[float]) -> tuple[float, ...]:
            return tuple(v + more_s if i == k else v for i, v in enumerate(limits))

        return replace(self, tight_s=longer(self.tight_s), spill_s=longer(self.spill_s))


def chain_of(show: Show) -> Chain:
    """The show's chain, in seconds."""
    ramp_sd_s = tuple(h.ramp_scatter_s / 2.0 for h in show.houses)
    return Chain(
        machines=tuple(
            Lateness(h.start_delay_s + h.ramp_s / 2.0, math.hypot(h.start_scatter_s, r))
            for h, r in zip(show.houses, ramp_sd_s, strict=True)
        ),
        ramp_sd_s=ramp_sd_s,
        tight_s=tuple(link.tight_fr / show.fps for link in show.links),
        spill_s=tuple(link.spill_fr / show.fps for link in show.links),
    )


def scatter_for(chain: Chain, target: float) -> float | None:
    """The common start scatter, in seconds, at which the start holds with probability ``target``.

    None where no scatter does: the delays and ramps alone lose too much already, or there is no link to lose.
    Where several scatters do (possible only with lopsided limits or unequal planned starts), the greatest
    found.
    """
    if not chain.tight_s:
        return None

    def over(scatter_s: float) -> float:
        return chain.with_common_scatter(scatter_s).holds() - target

    widest_s = max(t + s for t, s in zip(chain.tight_s, chain.spill_s, strict=True))
    # A single link with window w holds with at most w/(√(4π)·s): beyond 2w it is below 15 %.
    grid = [0.0, *(2.0 * widest_s * 1.6 ** (k - _SCAN) for k in range(_SCAN + 1))]
    values = [over(s) for s in grid]
    for k in range(len(grid) - 2, -1, -1):
        if values[k] >= 0.0 > values[k + 1]:
            return _root(over, grid[k], grid[k + 1], values[k], values[k + 1])
    return None


def _root(f: Callable[[float], float], low: float, high: float, f_low: float, f_high: float) -> float:
    """Where f, not negative at low and negative at high, is nothing (regula falsi, Illinois)."""
    side = 0
    x = low
    for _ in range(_ROOT_STEPS):
        x = (low * f_high - high * f_low) / (f_high - f_low)
        y = f(x)
        if abs(y) < 1e-14 or high - low < 1e-13 * high:
            break
        if y > 0.0:
            low, f_low = x, y
            if side == 1:
                f_high /= 2.0
            side = 1
        else:
            high, f_high = x, y
            if side == -1:
                f_low /= 2.0
            side = -1
    return x
