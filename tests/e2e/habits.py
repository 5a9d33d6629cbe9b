"""How an emulated adapter is, and what befalls it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class Habits:
    """How an adapter is and what befalls it; moments on the monotonic clock."""

    ppm: float = 0.0
    """Its crystal: so many millionths fast."""
    up_since_s: float = 0.0
    """When it was powered up (ticks and counts began)."""
    pulses_before: int = 0
    """What each counter stood at when the film was threaded."""
    damaged: float = 0.0
    """Share of lines that arrive damaged, or not at all."""
    jitter_s: float = 0.004
    """Lines leave late by up to this, evenly."""
    silent: tuple[tuple[float, float], ...] = ()
    """(from, to): nothing gets out or in, and the adapter goes on as if it did."""
    restarts: tuple[tuple[float, float], ...] = ()
    """(dead from, up again at): it begins anew."""
