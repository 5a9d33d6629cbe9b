"""One show of a seed through the real desk: what it said, and the room that knows the truth."""

from __future__ import annotations

import hashlib
import random
from dataclasses import dataclass
from operator import attrgetter

from drivers.simulator.booth import Booth
from drivers.simulator.scenario import Scenario
from drivers.simulator.truth import TrueEvent
from interlock.service.booth import sim_spec
from interlock.showfile.show import Show
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Input
from interlock.watch.state import Line, encode
from tests.campaign.booths import WALL_S, make_show
from tests.campaign.mischief import NEWEST, make_scenario
from tests.campaign.splices import Splices, uncounted, unheard
from tests.campaign.whims import Whims, furnish, take

BEGIN_S = -60.0
CHUNK_S = 5.0
AFTER_S = 15.0
LONGEST_S = 400.0
AT_S = attrgetter("at_s")


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


SAYS_S = 0.3
"""So long after it has passed film by hand the crew says so."""
COUNTED = 0.25
"""In so many shows the adapters have been counting for days."""


def word(booth: Booth, event: TrueEvent) -> Action | None:
    """What the crew says to this, at its desk second."""
    at_s = event.at_s - BEGIN_S
    if event.what == "restart-all":
        return Action(at_s, "restart", by="crew")
    if (event.what, event.text) == ("fault", "stop-all"):
        return Action(at_s, "stop-all", by="crew")
    if (event.what, event.text) == ("fault", "pass-film"):
        frames = booth.room.by_house[event.subject].motion.frames
        n_fr = frames(event.at_s + 1e-9) - frames(event.at_s - 1e-9)
        if abs(n_fr) > 0.5:  # it stood
            return Action(at_s + SAYS_S, "relace", house=event.subject, n_fr=float(round(n_fr)), by="crew")
    return None


def count_from(booth: Booth, seed: int) -> None:
    """In some shows the counts do not begin at 0."""
    rng = random.Random(f"counts {seed}")
    if rng.random() < COUNTED:
        for adapter in booth.adapters:
            for c in adapter.counters:
                c._base -= rng.randrange(1, 2_000_000)
                c._pulse_s = booth.room.now_s
                c._value = (c.signal, c.count * c.per_pulse, c.base_s + booth.room.now_s)


def run(seed: int, *, full: bool = False, marked: bool = False, mischief: int = NEWEST) -> Run:
    """Make the show of ``seed`` and run it to its end, or until it has stood for a while."""
    rng = random.Random(seed)
    show = make_show(rng, full=full)
    if mischief > 2:
        show = furnish(show, seed)
    show = uncounted(show) if marked else show
    scenario = make_scenario(rng, show, mischief)
    scenario = unheard(scenario, show, seed) if marked else scenario
    booth = Booth(sim_spec(show), seed, scenario, base_s=-BEGIN_S, begin_s=BEGIN_S, history=True)
    if mischief > 1:
        count_from(booth, seed)
    splices = Splices(show, booth, seed, -BEGIN_S) if marked else None
    lasts_s = (take(booth, seed) if mischief > 2 else Whims()).lasts_s
    anchor = Anchor(0.0, WALL_S + BEGIN_S)
    desk = Desk(show, anchor, rehearsal=True)
    inputs: list[Input] = []
    lines: list[Line] = []
    wall_off_s = 0.0
    steps = sorted(scenario.clock_steps)
    said = 0
    words: list[Action] = []
    t_s = BEGIN_S
    still_s: float | None = None
    while t_s < (9000.0 if full else LONGEST_S) + lasts_s:
        t_s += CHUNK_S
        batch: list[Input] = [*booth.advance(t_s)]
        while steps and steps[0][0] <= t_s:
            at_s, by_s = steps.pop(0)
            wall_off_s += by_s
            batch.append(Anchor(at_s - BEGIN_S, WALL_S + at_s + wall_off_s))
        # The crew says what it does: a stop of all and the restart after it, film passed by hand.
        words += [w for event in booth.room.log[said:] if (w := word(booth, event)) is not None]
        said = len(booth.room.log)
        words += splices.marks(t_s - CHUNK_S, t_s) if splices is not None else ()
        batch += [w for w in words if w.at_s <= t_s - BEGIN_S]
        words = [w for w in words if w.at_s > t_s - BEGIN_S]
        batch.sort(key=AT_S)
        inputs += batch
        for x in batch:
            lines += desk.step(x)
        if booth.room.idle:
            still_s = t_s if still_s is None else still_s
            if t_s - still_s > AFTER_S + lasts_s:
                break
        else:
            still_s = None
    return Run(seed, show, scenario, booth, inputs, lines)
