"""One show of a seed through the real desk: what it said, and the room that knows the truth."""

from __future__ import annotations

import hashlib
import random
from dataclasses import dataclass

from drivers.simulator.booth import Booth
from drivers.simulator.scenario import Scenario
from interlock.service.booth import sim_spec
from interlock.showfile.show import Show
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Input
from interlock.watch.state import Line, encode
from tests.campaign.booths import WALL_S, make_show
from tests.campaign.mischief import make_scenario

BEGIN_S = -60.0
CHUNK_S = 5.0
AFTER_S = 15.0
LONGEST_S = 400.0


@dataclass
class Run:
    """Everything about one show. Desk seconds are plan time + 60."""

    seed: int
    show: Show
    scenario: Scenario
    booth: Booth
    inputs: list[Input]
    lines: list[Line]

    def digest(self) -> str:
        """Of every line, to the last digit."""
        h = hashlib.sha256()
        for line in self.lines:
            h.update(encode(line))
        return h.hexdigest()


def run(seed: int, *, full: bool = False) -> Run:
    """Make the show of ``seed`` and run it to its end, or until it has stood for a while."""
    rng = random.Random(seed)
    show = make_show(rng, full=full)
    scenario = make_scenario(rng, show)
    booth = Booth(sim_spec(show), seed, scenario, base_s=-BEGIN_S, begin_s=BEGIN_S, history=True)
    anchor = Anchor(0.0, WALL_S + BEGIN_S)
    desk = Desk(show, anchor, rehearsal=True)
    inputs: list[Input] = []
    lines: list[Line] = []
    wall_off_s = 0.0
    steps = sorted(scenario.clock_steps)
    said = 0
    t_s = BEGIN_S
    still_s: float | None = None
    while t_s < (9000.0 if full else LONGEST_S):
        t_s += CHUNK_S
        batch: list[Input] = list(booth.advance(t_s))
        while steps and steps[0][0] <= t_s:
            at_s, by_s = steps.pop(0)
            wall_off_s += by_s
            batch.append(Anchor(at_s - BEGIN_S, WALL_S + at_s + wall_off_s))
        # The crew says what it does: a stop of all, and the restart after it.
        for event in booth.room.log[said:]:
            if (event.what, event.text) == ("fault", "stop-all") or event.what == "restart-all":
                action = "restart" if event.what == "restart-all" else "stop-all"
                batch.append(Action(event.at_s - BEGIN_S, action, by="crew"))
        said = len(booth.room.log)
        batch.sort(key=lambda x: x.at_s)
        for x in batch:
            inputs.append(x)
            lines += desk.step(x)
        if booth.room.idle:
            still_s = t_s if still_s is None else still_s
            if t_s - still_s > AFTER_S:
                break
        else:
            still_s = None
    return Run(seed, show, scenario, booth, inputs, lines)
