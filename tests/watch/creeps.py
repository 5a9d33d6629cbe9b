"""Creeps in simulated booths through the real desk, and what it forecast of them, beside when the limit was truly reached.

Two houses, counters of one pulse a frame, everything of the simulator's: start scatter, ramps, the mains' and the motors'
wander, ticks of a millisecond, lines that come late. Both machines are jogged before the desk is armed, as they are while
threading, so that no film stands just at a pulse.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import msgspec

from drivers.simulator.booth import Booth
from drivers.simulator.faults import parse_fault
from drivers.simulator.scenario import Scenario
from interlock.service.booth import sim_spec
from interlock.showfile.show import House, Link, Motor, Part, Show
from interlock.signals import AdapterSpec, CounterWire, Wiring
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor
from interlock.watch.state import AlarmLine, LinkLine

WALL0_S = 1_800_000_000.0
LIMIT_FR = 48.0
BEFORE_S = 60.0
ARMED_PLAN_S = -30.0
LONGEST_S = 9000.0
KINDS: dict[str, tuple[tuple[Motor, str, float], tuple[Motor, str, float]]] = {
    "synchronous": (("synchronous", "mains", 0.0), ("synchronous", "mains", 0.0)),
    "crystal beside the mains": (("synchronous", "mains", 0.0), ("crystal", "own", 0.00005)),
    "induction": (("induction", "mains", 0.005), ("induction", "mains", 0.005)),
}
"""Motor, supply and tolerance of the two machines; the tolerances are the show file's own."""


@dataclass(frozen=True)
class Forecast:
    """What was said ``at_s``, and after how long the limit was truly reached (inf: never). Seconds of plan time."""

    at_s: float
    span_s: tuple[float, float, float]
    true_s: float

    @property
    def holds(self) -> bool:
        """Whether the 90 % interval holds the true time."""
        return self.span_s[0] <= self.true_s <= self.span_s[2]


def make_show(kind: str) -> Show:
    """Two houses of ``kind`` and two and a half hours of print."""
    frames = 150 * 60 * 24
    return Show(
        title="Creep",
        film_key="35mm-4p",
        fps=24.0,
        motor_start_wall_s=WALL0_S,
        timezone="UTC",
        first_picture_fr=192.0,
        parts=(Part("one", "feature", frames, 0), Part("tail", "tail", 600, frames)),
        houses=tuple(
            House(i, f"House {i}", motor=motor, supply=supply, speed_tolerance=tolerance, lit=False)
            for i, (motor, supply, tolerance) in zip("12", KINDS[kind], strict=True)
        ),
        links=(Link("1", "2", 2000.0, path_tolerance=0.005, tight_fr=LIMIT_FR, spill_fr=LIMIT_FR),),
        adapters=tuple(
            AdapterSpec(f"a{i}", "simulator", {}, Wiring({0: f"{i}.run"}, {0: CounterWire(f"{i}.frames")}))
            for i in "12"
        ),
    )


def creep(kind: str, seed: int, least: float, most: float) -> dict[str, Forecast]:
    """One creep of a share between ``least`` and ``most`` (log-uniform): from the start, or beginning within two minutes.

    ``alarm``: as slack-forecast said it when it came; ``half``: as the link's line said it when half of the limit was used.
    """
    rng = random.Random(f"{kind} {seed}")
    share = rng.choice((-1, 1)) * math.exp(rng.uniform(math.log(least), math.log(most)))
    begin_s = rng.choice((0.0, rng.uniform(5.0, 120.0)))
    show = make_show(kind)
    faults: list[dict[str, object]] = [
        {
            "kind": "creep",
            "house": rng.choice("12"),
            "by": f"{100 * share:+.6f} %",
            "at": f"{begin_s - 30.0 * (begin_s == 0.0):.3f} s",
        }
    ]
    faults += [
        {"kind": "jog", "house": i, "at": "-50 s", "for": f"{rng.uniform(2.0, 2.2):.4f} s"} for i in "12"
    ]
    spec = sim_spec(show)
    # The film is forgiving here: what the jogs have used of the loops counts for nothing.
    loops = tuple(msgspec.structs.replace(k, tight_fr=90.0, spill_fr=90.0) for k in spec.loops)
    scenario = Scenario(faults=tuple(parse_fault(f) for f in faults))
    booth = Booth(
        msgspec.structs.replace(spec, loops=loops), seed, scenario, base_s=BEFORE_S, begin_s=-BEFORE_S, history=True
    )  # fmt: skip
    desk = Desk(show, Anchor(0.0, WALL0_S - BEFORE_S), rehearsal=True)
    said = _said(booth, desk, begin_s)
    return {
        moment: Forecast(at_s, span_s, _reached_s(booth, at_s) - at_s)
        for moment, (at_s, span_s) in said.items()
    }


def _said(booth: Booth, desk: Desk, begin_s: float) -> dict[str, tuple[float, tuple[float, float, float]]]:
    said: dict[str, tuple[float, tuple[float, float, float]]] = {}
    zero_s = 0.0
    t_s = -BEFORE_S
    while t_s < LONGEST_S and len(said) < 2 and not _parted(booth):
        t_s += 5.0
        for x in booth.advance(t_s):
            for line in desk.step(x):
                if line.show_s is None:
                    continue
                zero_s = zero_s or x.at_s - line.show_s
                at_s = line.show_s + zero_s - BEFORE_S
                if isinstance(line, LinkLine) and line.periodic and line.to_limit_s is not None:
                    if abs(line.drift_fr or 0.0) >= LIMIT_FR / 2.0 and at_s > begin_s + 20.0:
                        said.setdefault("half", (at_s, line.to_limit_s))
                elif (
                    isinstance(line, AlarmLine)
                    and line.code == "slack-forecast"
                    and line.active
                    and at_s > begin_s
                ):
                    span = tuple(line.values[f"to_limit_{p}_s"] for p in ("05", "50", "95"))
                    said.setdefault("alarm", (at_s, span))  # type: ignore[arg-type]
    return said


def _parted(booth: Booth) -> bool:
    """It has come so far that nothing more is asked."""
    loop = booth.room.loops[0]
    return abs(loop.drift_fr(booth.room.now_s)) > LIMIT_FR + 10.0


def _reached_s(booth: Booth, after_s: float) -> float:
    """Plan time at which a limit is truly reached, drift counting from when the desk was armed; inf: never in this show."""
    base_fr = booth.room.truth(ARMED_PLAN_S).loops[0].drift_fr
    while True:
        found = [
            t_s
            for level_fr in (base_fr + LIMIT_FR, base_fr - LIMIT_FR)
            for t_s, way in booth.room.crossings("1>2", level_fr)
            if t_s > after_s and way == (1 if level_fr > base_fr else -1)
        ]
        if found:
            return min(found)
        if booth.room.now_s > LONGEST_S:
            return math.inf
        booth.room.advance(booth.room.now_s + 300.0)
