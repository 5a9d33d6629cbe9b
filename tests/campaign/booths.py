"""A show of a seed: two to sixteen houses, a minute or two of print, everything scaled to it."""

from __future__ import annotations

import random
from itertools import pairwise

from interlock.showfile.show import House, Link, Part, Show
from interlock.signals import AdapterSpec, AnalogWire, CounterWire, Wiring

WALL_S = 1_800_000_000.0
FPS = 24.0


def make_show(rng: random.Random, *, full: bool = False) -> Show:
    """``full``: a feature of two hours instead of a minute or two."""
    n = rng.choice((2, 2, 3, 4, 4, 5, 6, 8, 12, 16))
    ids = [str(k + 1) for k in range(n)]
    seconds = 7200.0 if full else rng.uniform(60.0, 150.0) * 0.5
    path_s = (rng.uniform(30.0, 80.0) if full else 40.0 / n) * 1.0
    limit_fr = 48.0
    kind = rng.choice(("synchronous", "synchronous", "synchronous", "crystal", "mixed"))
    houses = tuple(_house(rng, i, kind, scale=1.0 if full else 0.15) for i in ids)
    links = tuple(
        Link(
            a,
            b,
            max(60.0, rng.uniform(0.5, 1.5) * path_s * FPS),
            path_tolerance=0.01,
            tight_fr=limit_fr * rng.choice((1.0, 1.0, 0.75)),
            spill_fr=limit_fr * rng.choice((1.0, 1.0, 0.75)),
            wired=rng.random() < 0.15,
        )
        for a, b in pairwise(ids)
    )
    frames = int(seconds * FPS)
    tail = int(max(k.path_fr for k in links) + 2 * limit_fr + 120)
    parts = (
        Part("one", "feature", frames // 2, 0),
        Part("two", "feature", frames - frames // 2, frames // 2),
        Part("tail", "tail", tail, frames),
    )
    return Show(
        title="Campaign",
        film_key="35mm-4p",
        fps=FPS,
        motor_start_wall_s=WALL_S,
        timezone="UTC",
        first_picture_fr=192.0,
        parts=parts,
        houses=houses,
        links=links,
        feed=Link("feed", ids[0], 100.0) if rng.random() < 0.5 else None,
        take_up=Link(ids[-1], "take-up", 100.0) if rng.random() < 0.5 else None,
        adapters=_adapters(rng, ids),
    )


def _house(rng: random.Random, house: str, kind: str, *, scale: float) -> House:
    crystal = kind == "crystal" or (kind == "mixed" and rng.random() < 0.4)
    return House(
        house,
        f"House {house}",
        motor="crystal" if crystal else "synchronous",
        supply=f"own-{house}" if crystal else "mains",
        speed_tolerance=0.00005 if crystal else 0.0,
        start_scatter_s=0.1,
        ramp_s=rng.choice((0.8, 1.0, 1.2)),
        ramp_scatter_s=0.05,
        coast_s=rng.choice((0.2, 0.3, 0.5)),
        lamp_lead_s=45.0 * scale,
        dowser_lead_s=1.0,
    )


def _adapters(rng: random.Random, ids: list[str]) -> tuple[AdapterSpec, ...]:
    specs: list[AdapterSpec] = []
    per = rng.choice((1, 2, 4))
    counted = rng.random() < 0.85
    for first in range(0, len(ids), per):
        mine = ids[first : first + per]
        levels: dict[int, str] = {}
        for i in mine:
            for what in ("run", "lamp", "dowser", "film"):
                levels[len(levels)] = f"{i}.{what}" if rng.random() < 0.9 else f"!{i}.{what}"
        analogs: dict[int, AnalogWire] = {}
        for a, b in pairwise(mine):
            if rng.random() < 0.15:
                analogs[len(analogs)] = AnalogWire(f"{a}>{b}.arm", 310.0, 3800.0)
        pulses = rng.choice((1.0, 1.0, 1.0, 4.0))
        counters = {n: CounterWire(f"{i}.frames", pulses) for n, i in enumerate(mine)} if counted else {}
        specs.append(AdapterSpec(f"a{first // per + 1}", "simulator", {}, Wiring(levels, counters, analogs)))
    return tuple(specs)
