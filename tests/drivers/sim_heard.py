"""What a simulated booth was heard to say, in plan time (desk seconds less 1000)."""

from __future__ import annotations

from typing import Any

from sim_specs import booth_with

from drivers.simulator.booth import Booth
from interlock.signals import Contacts, Counts, Reading


def contact(said: list[Reading], signal: str) -> list[tuple[float, bool]]:
    """(plan time of the fact, value) of each change of a contact."""
    changes: list[tuple[float, bool]] = []
    for r in said:
        if isinstance(r, Contacts):
            for name, value in r.values:
                if name == signal and (not changes or changes[-1][1] != value):
                    changes.append((r.fact_s - 1000, value))
    return changes


def frames(said: list[Reading], house: str, until_s: float = 1e9) -> float:
    """The last count told of a house by then."""
    values = [
        v[1] for r in said if isinstance(r, Counts) and r.at_s - 1000 <= until_s
        for v in r.values if v[0] == f"{house}.frames"
    ]  # fmt: skip
    return values[-1]


def run(seconds: float, *faults: dict[str, Any], **keys: Any) -> tuple[Booth, list[Reading]]:
    """A booth after so many seconds of plan time, and what it has said."""
    booth = booth_with(*faults, **keys)
    return booth, booth.advance(seconds)


def between(said: list[Reading], adapter: str, since_s: float, until_s: float) -> list[Reading]:
    """What came in from an adapter between two plan times."""
    return [r for r in said if r.adapter == adapter and since_s < r.at_s - 1000 < until_s]
