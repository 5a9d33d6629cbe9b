"""Shows for the tests of ``check``."""

from __future__ import annotations

from datetime import datetime
from importlib.resources import files

import msgspec

from interlock.showfile.load import parse_show
from interlock.showfile.show import House, Link, Part, Show
from interlock.signals import AdapterSpec, CounterWire, Wiring


def config(name: str) -> Show:
    return parse_show(files("configs").joinpath(name).read_text(encoding="utf-8"), name)


def a_show(**changes: object) -> Show:
    """Two houses, all wired; 18+00 to the first picture, 74 tape feet between the gates."""
    wiring = Wiring({0: "4.run", 1: "3.run"}, {0: CounterWire("4.frames"), 1: CounterWire("3.frames")})
    show = Show(
        title="Lantern Weather",
        film_key="35mm-4p",
        fps=24.0,
        motor_start_wall_s=datetime.fromisoformat("2026-12-05T19:25:00-01:00").timestamp(),
        timezone="Atlantic/Azores",
        first_picture_fr=1440.0,
        parts=(Part("reel 1", "feature", 2400, 0), Part("tail", "tail", 2000, 2400)),
        houses=(House("4", "House 4", start_delay_s=0.5, ramp_s=1.2), House("3", "House 3")),
        links=(Link("4", "3", 1200.0, tight_fr=48.0, spill_fr=48.0, wired=True),),
        adapters=(AdapterSpec("north", "serial", {}, wiring),),
    )
    return msgspec.structs.replace(show, **changes)
