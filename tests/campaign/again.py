"""The same show again: folded anew from its record's form, with ticks thrown in, it must say the same to the last digit."""

from __future__ import annotations

import random
from collections.abc import Iterator

import msgspec

from interlock.signals import Reading
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Input, Tick
from interlock.watch.state import encode
from tests.campaign.booths import WALL_S
from tests.campaign.drive import BEGIN_S, Run

_action: msgspec.json.Decoder[Action] = msgspec.json.Decoder(Action)
_other: msgspec.json.Decoder[Reading | Tick | Anchor] = msgspec.json.Decoder(Reading | Tick | Anchor)


def _through_json(x: Input) -> Input:
    text = msgspec.json.encode(x)
    return _action.decode(text) if isinstance(x, Action) else _other.decode(text)


def findings_again(show: Run) -> Iterator[str]:
    """A sentence if it says anything else."""
    rng = random.Random(show.seed)
    desk = Desk(show.show, Anchor(0.0, WALL_S + BEGIN_S), rehearsal=True)
    said = iter(show.lines)
    last_s = 0.0
    for x in show.inputs:
        batch: list[Input] = [Tick(rng.uniform(last_s, x.at_s))] if rng.randrange(2) else []
        batch.append(_through_json(x))
        for y in batch:
            for line in desk.step(y):
                first = next(said, None)
                if first is None or encode(first) != encode(line):
                    yield f"folded again it says {line} where it said {first}"
                    return
        last_s = max(last_s, x.at_s)
    if next(said, None) is not None:
        yield "folded again it says less"
