"""What four adapters say in an evening: sixteen houses, a CT line ten times and an LV line four times a second."""

from __future__ import annotations

import random
from collections.abc import Iterator

from interlock.journal import RecordMeta
from interlock.signals import HOUSE_CONTACTS, Contacts, Counts
from interlock.watch.inputs import Input

META = RecordMeta(
    show_path="bench.toml",
    show_source="[show]\n" * 300,
    title="Bench",
    program="0",
    python="3",
    timezone="UTC",
    started_wall_s=1_796_502_300.0,
    rehearsal=True,
    seed=1,
    scenario=None,
)
BOOTHS = [
    (name, [str(4 * n + k + 1) for k in range(4)])
    for n, name in enumerate(["north", "south", "east", "west"])
]


def readings(seconds: int) -> Iterator[list[Input]]:
    """The inputs of every 50 ms, with times that differ in every digit, as real ones do."""
    chance = random.Random(1)
    for step in range(seconds * 20):
        now_s = 91_733.123456789 + step * 0.05
        inputs: list[Input] = []
        for adapter, houses in BOOTHS:
            at_s, fact_s = now_s + chance.random() * 0.01, now_s + chance.random() * 1e-4
            if step % 2 == 0:
                frames = float(int(step * 1.2))
                inputs.append(
                    Counts(
                        at_s,
                        fact_s,
                        adapter,
                        tuple((f"{h}.frames", frames, fact_s - chance.random() * 0.04) for h in houses),
                    )
                )
            if step % 5 == 0:
                contacts = tuple((f"{h}.{c}", c != "film") for h in houses for c in HOUSE_CONTACTS)
                inputs.append(Contacts(at_s, fact_s, adapter, contacts))
        yield inputs
