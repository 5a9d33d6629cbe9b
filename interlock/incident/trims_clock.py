"""The computer's clock against the timers': what is left of the starts when each show's mean is taken out."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from interlock.incident.starts import Start
from interlock.incident.trims_math import Estimate

SHIFT_SIGMAS = 4.0
"""A show whose houses are all off together by so much has another clock, not other timers."""


def from_mean(s: Start) -> dict[str, float]:
    """Each delay less the mean of all; a show in which a house is missing has no mean to go by."""
    if len(s.delay_s) < len(s.show.houses):
        return {}
    mean = math.fsum(s.delay_s.values()) / len(s.delay_s)
    return {h: d - mean for h, d in s.delay_s.items()}


def unmixed(delays: dict[str, Estimate]) -> dict[str, Estimate]:
    """The scatters behind those of the differences from the mean: var r_k = s_k²(1 − 2/K) + Σs²/K², so Σ var r = Σs²(1 − 1/K)."""
    k = len(delays)
    if k < 3 or any(e.scatter is None for e in delays.values()):
        return {
            h: msgspec.structs.replace(e, scatter=None, scatter_low=None, scatter_high=None)
            for h, e in delays.items()
        }
    total = math.fsum((e.scatter or 0.0) ** 2 for e in delays.values()) / (1.0 - 1.0 / k)
    found: dict[str, Estimate] = {}
    for h, e in delays.items():
        seen = e.scatter or 0.0
        own = math.sqrt(max(0.0, (seen * seen - total / k**2) / (1.0 - 2.0 / k)))
        share = own / seen if seen > 0.0 else 0.0
        low = None if e.scatter_low is None else e.scatter_low * share
        # Solved for, so less sure than its own chi-square says: never below what the difference itself bears.
        high = None if e.scatter_high is None else e.scatter_high
        found[h] = msgspec.structs.replace(e, scatter=own, scatter_low=low, scatter_high=high)
    return found


def shifts(starts: Sequence[Start]) -> list[tuple[str, float]]:
    """Shows whose houses are late or early all together, against the other shows."""
    whole = [s for s in starts if len(s.delay_s) == len(s.show.houses)]
    if len(whole) < 3:
        return []
    k = len(whole[0].delay_s)
    means = [math.fsum(s.delay_s.values()) / k for s in whole]
    # What the houses' own scatters make of a mean of k, from the differences within a show.
    within = math.fsum(
        (d - math.fsum(s2.delay_s[h] for s2 in whole) / len(whole) - (m - math.fsum(means) / len(means))) ** 2
        for s, m in zip(whole, means, strict=True)
        for h, d in s.delay_s.items()
    )
    dof = (len(whole) - 1) * (k - 1)
    if dof < 4 or within == 0.0:
        return []
    sigma = math.sqrt(within / dof / k)
    middle = sorted(means)[len(means) // 2]
    return [
        (s.record, m - middle)
        for s, m in zip(whole, means, strict=True)
        if abs(m - middle) > SHIFT_SIGMAS * sigma
    ]
