"""A show of two houses on one adapter."""

from __future__ import annotations

from interlock.showfile.show import House, Link, Part, Show
from interlock.signals import AdapterSpec, Wiring


def two_gates(wall_s: float = 1_790_000_000.0) -> Show:
    return Show(
        title="Two gates",
        film_key="35mm-4p",
        fps=24.0,
        motor_start_wall_s=wall_s,
        timezone="Etc/UTC",
        first_picture_fr=1440.0,
        parts=(Part("one", "feature", 2880, 0), Part("tail", "tail", 600, 2880)),
        houses=(House("1", "House 1"), House("2", "House 2")),
        links=(Link("1", "2", 200.0, tight_fr=48.0, spill_fr=48.0),),
        adapters=(AdapterSpec("north", "told", {}, Wiring({0: "1.run", 1: "2.run", 2: "1.lamp"})),),
    )
