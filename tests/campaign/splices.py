"""Shows of machines without counters whose crew marks splices in every gate: ``python -m tests.campaign --marked``.

Machines that started unheard may be frames apart, and only marks can tell. The crew looks at the gate and presses a key when
the splice is there, give or take a quarter of a second. It is a campaign beside the others, which know counters.
"""

from __future__ import annotations

import random

import msgspec

from drivers.simulator.booth import Booth
from drivers.simulator.faults import parse_fault
from drivers.simulator.machine import Machine
from drivers.simulator.scenario import Scenario
from interlock.showfile.show import Show
from interlock.watch.inputs import Action

UNHEARD = 0.8
"""In so many shows an adapter is silent while its machines start."""
REACTION_S = 0.25
"""1-sigma of a person's key."""


def uncounted(show: Show) -> Show:
    """The same booth with no counter wired."""
    return msgspec.structs.replace(
        show,
        adapters=tuple(
            msgspec.structs.replace(a, wiring=msgspec.structs.replace(a.wiring, counters={}))
            for a in show.adapters
        ),
    )


def unheard(scenario: Scenario, show: Show, seed: int) -> Scenario:
    """The same show, in which one or two adapters may say nothing while the machines start."""
    rng = random.Random(f"unheard {seed}")
    silences = [
        {
            "kind": "silence", "adapter": rng.choice(show.adapters).name,
            "at": f"{rng.uniform(-1.5, -0.3):.3f} s", "for": f"{rng.uniform(2.0, 4.0):.2f} s",
        }
        for _ in range(rng.choice((1, 2)))
        if rng.random() < UNHEARD
    ]  # fmt: skip
    # What was jogged while threading is no part of the plan, and a mark would tell of it: the oracle knows the plan alone. And
    # when a show began that nobody heard begin, it finds by the wall clock.
    kept = (f for f in scenario.faults if f.kind not in ("jog", "clock-step"))
    once = {s["adapter"]: s for s in silences}
    faults = (*kept, *(parse_fault(s) for s in once.values()))
    return Scenario(title=scenario.title, faults=faults, crew_stops_after_s=scenario.crew_stops_after_s)


class Splices:
    """The print's splices, and the crew that marks them. ``word_s``: desk seconds are plan time + this."""

    def __init__(self, show: Show, booth: Booth, seed: int, word_s: float) -> None:
        self._rng = rng = random.Random(f"splices {seed}")
        self._machines: list[Machine] = booth.room.machines
        self._word_s = word_s
        every_fr = rng.uniform(60.0, 150.0)
        self._frames = [
            float(round(every_fr * (n + 0.5))) for n in range(int(show.last_picture_fr / every_fr))
        ]
        self._next = [0] * len(self._machines)

    def marks(self, from_s: float, to_s: float) -> list[Action]:
        """What the crew says of the splices that came into a gate in between (plan times), not before ``from_s``."""
        said: list[Action] = []
        for k, m in enumerate(self._machines):
            while self._next[k] < len(self._frames) and m.print_frame(to_s) >= self._frames[self._next[k]]:
                frame = self._frames[self._next[k]]
                self._next[k] += 1
                at_s = max(from_s, _when(m, frame, from_s, to_s) + self._rng.gauss(0.0, REACTION_S))
                said.append(Action(at_s + self._word_s, "mark", house=m.house, frame=frame, by="crew"))
        return said


def _when(m: Machine, frame: float, low_s: float, high_s: float) -> float:
    """When that frame of the print came into its gate."""
    while high_s - low_s > 1e-4:
        middle_s = 0.5 * (low_s + high_s)
        if m.print_frame(middle_s) >= frame:
            high_s = middle_s
        else:
            low_s = middle_s
    return high_s
