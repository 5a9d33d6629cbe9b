"""What the third version of the mischief adds to a show of a seed: other lamps and platters, and a crew with whims.

A rehearsal knows no such faults of the crew: here its hands are held. Everything is drawn by chance of its own,
so that a seed of an older version stays the show that it was.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import msgspec

from drivers.simulator.booth import Booth
from drivers.simulator.crew import Crew
from drivers.simulator.machine import Machine
from interlock.showfile.show import House, Show
from interlock.signals import AdapterSpec

UNLIT, PLATTERS_WIRED, WITH_WHIMS, LAMP_KEPT = 0.06, 0.8, 0.25, 0.08
LEFT_ON_S = 300.0
"""So long after the last picture a lamp that still burns is to be told of (contract.md)."""


def furnish(show: Show, seed: int) -> Show:
    """The same booth: lamps with leads of a real one, dowsers that bear less, a dark house, contacts at the platters."""
    rng = random.Random(f"furnish {seed}")
    houses = tuple(_house(rng, h) for h in show.houses)
    wired = {
        name: adapter
        for name, link, adapter in (
            ("feed", show.feed, show.adapters[0]), ("take-up", show.take_up, show.adapters[-1]),
        )
        if link is not None and rng.random() < PLATTERS_WIRED
    }  # fmt: skip
    adapters = tuple(_with_platters(a, [n for n, spec in wired.items() if spec is a]) for a in show.adapters)
    return msgspec.structs.replace(show, houses=houses, adapters=adapters)


def _house(rng: random.Random, h: House) -> House:
    return msgspec.structs.replace(
        h,
        lit=rng.random() >= UNLIT,
        lamp_lead_s=rng.choice((h.lamp_lead_s, h.lamp_lead_s, 20.0, 45.0)),
        shut_dowser_limit_s=rng.choice((h.shut_dowser_limit_s, rng.uniform(1.0, 30.0))),
    )


def _with_platters(spec: AdapterSpec, names: list[str]) -> AdapterSpec:
    levels = dict(spec.wiring.levels)
    for name in names:
        levels[len(levels)] = f"{name}.run"
    return msgspec.structs.replace(spec, wiring=msgspec.structs.replace(spec.wiring, levels=levels))


@dataclass
class Whims:
    """What a crew does not do. ``lasts_s``: how much longer such a show has to be watched."""

    lamp_kept: set[str] = field(default_factory=set)
    dowser_kept: set[str] = field(default_factory=set)
    lasts_s: float = 0.0


class _WhimsicalCrew(Crew):
    """A crew that forgets. Made out of the room's own, which has its cues already."""

    whims: Whims

    def set_lamp(self, m: Machine, t_s: float, lit: bool) -> None:
        if lit or self.light[m.house].lamp_wanted or m.house not in self.whims.lamp_kept:
            super().set_lamp(m, t_s, lit)

    def want_dowser(self, m: Machine, t_s: float, is_open: bool) -> None:
        over = m.print_frame(t_s) >= self.room.spec.picture_spans[-1][1]
        if is_open or over or m.house not in self.whims.dowser_kept:
            super().want_dowser(m, t_s, is_open)


def take(booth: Booth, seed: int) -> Whims:
    """Give the crew of the booth the whims of this seed."""
    rng, room = random.Random(f"whims {seed}"), booth.room
    whims = Whims()
    if rng.random() >= WITH_WHIMS:
        return whims
    crew = room.crew
    crew.__class__ = _WhimsicalCrew
    crew.whims = whims  # type: ignore[attr-defined]
    m = rng.choice(room.machines)
    picture_s = m.first_picture_fr / room.spec.fps
    at_s = picture_s - rng.uniform(2.0, 30.0)
    what = rng.random()
    if what < LAMP_KEPT:
        whims.lamp_kept.add(m.house)
        whims.lasts_s = LEFT_ON_S + 10.0
        room.say(room.now_s, "whim", m.house, "never puts the lamp out")
    elif what < 0.3:
        whims.dowser_kept.add(m.house)
        room.say(room.now_s, "whim", m.house, "shuts the dowser after the last picture only")
    elif what < 0.6:
        room.say(room.now_s, "whim", m.house, f"strikes at {at_s:.3f} s")
        room.at(at_s, lambda t_s: _strike(crew, m, t_s))
    else:
        room.say(room.now_s, "whim", m.house, f"opens the dowser at {at_s:.3f} s")
        room.at(at_s, lambda t_s: crew.want_dowser(m, t_s, True))
        if rng.random() < 0.5:
            room.at(at_s + rng.uniform(0.5, 12.0), lambda t_s: crew.want_dowser(m, t_s, False))
    return whims


def _strike(crew: Crew, m: Machine, t_s: float) -> None:
    crew.light[m.house].lamp_wanted = True
    crew.strike(m, t_s)
