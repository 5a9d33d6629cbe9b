"""Booths for the simulator's tests: no show file, nothing left to chance unless a test asks for it."""

from __future__ import annotations

import itertools
from typing import Any

from drivers.simulator.booth import Booth
from drivers.simulator.faults import parse_fault
from drivers.simulator.machines import LoopSpec, MachineSpec, SimSpec
from drivers.simulator.room import Room
from drivers.simulator.scenario import Scenario
from interlock.plan.timeline import picture_spans
from interlock.showfile.show import Show
from interlock.signals import AdapterSpec, AnalogWire, CounterWire, Wiring

FPS = 24.0
PATH_FR = 480.0
FIRST_FR = 240.0


def booth_spec(n: int = 3, *, minutes: float = 2.0, houses_an_adapter: int = 2, **machine: Any) -> SimSpec:
    """``n`` houses named from 1, exact timers, crystals dead on speed, 20 s of film between gates."""
    exact: dict[str, Any] = {
        "motor": "crystal", "start_scatter_s": 0.0, "ramp_s": 1.2, "ramp_scatter_s": 0.0, "coast_s": 0.4,
        "lamp_lead_s": 5.0, "film_sensor_fr": -48.0,
    }  # fmt: skip
    ids = [str(k + 1) for k in range(n)]
    length = minutes * 60 * FPS + 600
    loops = tuple(LoopSpec(a, b, PATH_FR) for a, b in itertools.pairwise(ids))
    adapters = []
    for k in range(0, n, houses_an_adapter):
        mine = ids[k : k + houses_an_adapter]
        levels = [f"{h}.{s}" for h in mine for s in ("run", "lamp", "!dowser", "film")]
        levels = [f"!{s.replace('!', '')}" if "!" in s else s for s in levels]
        levels += [f"{p.id}.{s}" for p in loops if p.upstream in mine for s in ("tight", "spill")]
        levels += ["feed.run"] if k == 0 else []
        levels += ["take-up.run"] if mine[-1] == ids[-1] else []
        arms = [f"{p.id}.arm" for p in loops if p.upstream in mine]
        wiring = Wiring(
            dict(enumerate(levels)),
            {i: CounterWire(f"{h}.frames") for i, h in enumerate(mine)},
            {i: AnalogWire(s, 310, 3800) for i, s in enumerate(arms)},
        )
        adapters.append(AdapterSpec(f"a{k // houses_an_adapter + 1}", "serial", {"port": "loop://"}, wiring))
    return SimSpec(
        fps=FPS,
        first_picture_fr=FIRST_FR,
        length_fr=length,
        machines=tuple(MachineSpec(h, **{**exact, **machine}) for h in ids),
        loops=loops,
        picture_spans=((0.0, length - 600),),
        feed_fr=200.0,
        take_up_fr=200.0,
        adapters=tuple(adapters),
    )


def scenario(*faults: dict[str, Any], **keys: Any) -> Scenario:
    """A scenario of these faults, keys as in a file."""
    return Scenario(faults=tuple(parse_fault(f) for f in faults), **keys)


def room_with(*faults: dict[str, Any], spec: SimSpec | None = None, seed: int = 1, **keys: Any) -> Room:
    """A room with history."""
    return Room(spec or booth_spec(), seed, scenario(*faults, **keys), history=True)


def booth_with(*faults: dict[str, Any], spec: SimSpec | None = None, seed: int = 1, **keys: Any) -> Booth:
    """A booth at desk second 1000 + plan time."""
    return Booth(spec or booth_spec(), seed, scenario(*faults, **keys), base_s=1000.0, history=True)


def happened(room: Room, what: str) -> list[tuple[float, str, str]]:
    """(time, subject, text) of each true event of a kind."""
    return [(e.at_s, e.subject, e.text) for e in room.log if e.what == what]


def spec_of(show: Show) -> SimSpec:
    """What the composition root makes of a show."""
    return SimSpec(
        fps=show.fps,
        first_picture_fr=show.first_picture_fr,
        length_fr=show.length_fr,
        machines=tuple(
            MachineSpec(
                house=h.id, motor=h.motor, supply=h.supply, speed_tolerance=h.speed_tolerance,
                start_delay_s=h.start_delay_s, start_scatter_s=h.start_scatter_s, ramp_s=h.ramp_s,
                ramp_scatter_s=h.ramp_scatter_s, coast_s=h.coast_s, lamp_lead_s=h.lamp_lead_s,
                dowser_lead_s=h.dowser_lead_s, film_sensor_fr=h.film_sensor_fr, lit=h.lit,
            )
            for h in show.houses
        ),
        loops=tuple(
            LoopSpec(p.upstream, p.downstream, p.path_fr, p.path_tolerance, p.tight_fr, p.spill_fr, p.wired)
            for p in show.links
        ),
        picture_spans=tuple((float(a), float(b)) for a, b in picture_spans(show)),
        feed_fr=None if show.feed is None else show.feed.path_fr,
        take_up_fr=None if show.take_up is None else show.take_up.path_fr,
        adapters=show.adapters,
    )  # fmt: skip
