"""How two machines that are not off move apart all the same: what is believed of it before anything is measured."""

from __future__ import annotations

import math

from interlock.showfile.show import House, Show

TICK_S = 0.001
MAPPING_S = 0.00006
"""A tick of wire.md, and the 1-sigma with which ticks are mapped to the desk's time (design.md, measured)."""
QUARTZ_SHARE = 0.00005
"""1-sigma of a crystal's error: it sweeps past the adapter's ticks slowly."""
SLIP_SHARE, SLIP_TAU_S = 0.25, 60.0
"""1-sigma of an induction machine's slip about its own mean, as a share of its tolerance, and how long a load lasts."""
SUPPLY_SHARE, SUPPLY_TAU_S = 0.0002, 300.0
"""1-sigma of the mains' frequency, and how long it remembers: the everyday state of a large grid."""


def wander(show: Show, up: House, down: House) -> tuple[float, float]:
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


def pulses_var(show: Show, up: House, down: House) -> float:
    """Variance of the difference of two pulses' dates, in frames², as it counts among one sample a second."""
    cut_off = math.fsum(TICK_S**2 / 12.0 * _alike(h) for h in (up, down))
    return show.fps**2 * (cut_off + 2.0 * MAPPING_S**2)


def _alike(h: House) -> float:
    """How many seconds' samples have the same cut off them by the tick, so that together they tell no more than one.

    A machine sweeps past the ticks, the slower the nearer it keeps to its speed. Of a rate that is σ (in ticks a second) off,
    what is cut off, a sawtooth, keeps the share Σ 6/(πn)² exp(−2(πnσk)²) of its variance for k seconds, forwards and backwards.
    """
    off = (QUARTZ_SHARE if h.motor == "crystal" else SUPPLY_SHARE) / TICK_S
    return 1.0 + 2.0 * math.fsum(
        6.0 / (math.pi * n) ** 2 * math.exp(-2.0 * (math.pi * n * off * k) ** 2)
        for k in range(1, math.ceil(1.0 / off))
        for n in range(1, 6)
    )
