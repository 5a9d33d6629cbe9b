"""What is true in the room at a moment, for the oracle that judges the desk."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from drivers.simulator.machine import Loop, Machine


class TrueEvent(msgspec.Struct, frozen=True):
    """Something that happened. ``subject``: a house, a link, a platter or an adapter."""

    at_s: float
    what: str
    subject: str
    text: str = ""


class MachineTruth(msgspec.Struct, frozen=True):
    """One machine. ``frame``: the print frame in its gate."""

    house: str
    frames: float
    fps: float
    run: bool
    frame: float


class LoopTruth(msgspec.Struct, frozen=True):
    """One link. ``drift_fr`` upstream minus downstream since threaded, also where film no longer ties the two."""

    link: str
    drift_fr: float
    parted: bool
    released: bool


class Truth(msgspec.Struct, frozen=True):
    """Everything at one moment, in film order."""

    at_s: float
    machines: tuple[MachineTruth, ...]
    loops: tuple[LoopTruth, ...]


def truth_of(machines: Sequence[Machine], loops: Sequence[Loop], t_s: float) -> Truth:
    """Everything at ``t_s``."""
    return Truth(
        t_s,
        tuple(
            MachineTruth(m.house, m.motion.frames(t_s), m.motion.fps(t_s), m.ran_at(t_s), m.print_frame(t_s))
            for m in machines
        ),
        tuple(LoopTruth(p.id, p.drift_fr(t_s), p.parted_s <= t_s, p.released_s <= t_s) for p in loops),
    )
