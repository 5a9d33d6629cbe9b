"""The show's settings for threading and for the decks, in SI units. Defaults: see ``threading.py``."""

from __future__ import annotations

import msgspec


class Lift(msgspec.Struct, frozen=True):
    """At ``at_fr`` frames from the upstream gate the film goes up by ``by_m`` metres (down: negative)."""

    at_fr: float
    by_m: float


class ThreadingSettings(msgspec.Struct, frozen=True):
    """``[threading]``. ``_n`` newtons, ``_m`` metres, ``_s`` seconds, ``_fr`` frames; diameters, not radii."""

    hand_n: float = 22.0
    splice_n: float = 25.0
    running_n: float = 4.4482216152605
    hold_back_n: float = 1.0
    friction: float = 0.15
    pin_m: float = 0.006
    roller_m: float = 0.05
    roller_drag_n: float = 0.1
    stuck_friction: float = 0.2
    machine_drag_n: float = 0.5
    crew: int = 2
    pace_mps: float = 0.5
    roller_s: float = 3.0
    machine_s: float = 90.0
    join_s: float = 120.0
    allowance_m: float = 3.048
    tail_margin_fr: float = 160.0
    gate_height_m: float = 1.2192
    reach_m: float = 1.9812


class DeckSettings(msgspec.Struct, frozen=True):
    """``[deck]``. None: no limit is known, so nothing is checked against it."""

    diameter_m: float | None = None
    core_m: float = 0.3048
    weight_kg: float | None = None
    thickness_m: float = 0.0053 * 0.0254
