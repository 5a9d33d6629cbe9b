"""How large the record of a four-hour show of sixteen houses gets, where every time differs in every digit.

Every batch holds what came in during 100 ms, as it does live. Half an hour is written, and eight times its size stated.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchmarks._journal_readings import META, readings
from benchmarks._row import Row, Seen, run, under
from interlock.journal import Record
from interlock.journal.schema import GENESIS, Batch, meta_to_json
from interlock.journal.sealer import Entry, Sealer
from interlock.journal.store import Store
from interlock.watch.state import HouseLine, Line, LinkLine

SECONDS, TIMES = 1_800, 8
MOST_MB = 150.0


def second(n: int, chance: random.Random) -> list[Line]:
    """The lines of every second, of which the record keeps the figures."""
    at = f"2026-12-05T{20 + n // 3600:02}:{n // 60 % 60:02}:{n % 60:02}.000Z"
    base: dict[str, Any] = {"seq": n, "at": at, "show_s": n + chance.random(), "periodic": True}
    houses: list[Line] = [
        HouseLine(
            **base, house=str(k), phase="picture", run=True, lamp=True, dowser=True, film=None, part="reel 1", dark=False,
            frame=n * 24 + chance.random(), expected_frame=n * 24 + chance.random(), sigma_fr=chance.random(),
            speed_fps=24 + chance.random() / 100,
        )
        for k in range(16)
    ]  # fmt: skip
    links: list[Line] = [
        LinkLine(
            **base, link=f"{k}>{k + 1}", state="running", toward="tight", used=0.1, left_fr=40.0, to_limit_s=None,
            drift_fr=chance.gauss(0, 5), sigma_fr=chance.random(), rate_fps=chance.gauss(0, 0.01),
        )
        for k in range(15)
    ]  # fmt: skip
    return houses + links


def write(path: Path) -> tuple[int, str]:
    """As the writer seals and stores, without waiting 100 ms for each of 144,000 batches."""
    sealer = Sealer(lambda: META.started_wall_s, 0, GENESIS, 0)
    store = Store.create(path, sealer.seal("start", note=meta_to_json(META)))
    pending: list[Batch] = []
    count, waiting = 0, list[Entry]()
    chance = random.Random(2)
    for step, inputs in enumerate(readings(SECONDS)):
        if step % 20 == 0:
            waiting.append((inputs.pop(0), second(step // 20, chance)))
        waiting += inputs
        if step % 2:
            count += len(waiting)
            pending += sealer.seal_all(waiting)
            waiting = []
        if len(pending) >= 2_000:
            store.write(pending)
            pending = []
    store.write([*pending, sealer.seal("end")])
    if not store.finish(1.0):
        raise AssertionError("not one file")
    return count, sealer.head


def measure() -> Iterator[Row]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "half-an-hour.record"
        count, head = write(path)
        size_mb = path.stat().st_size / 1e6 * TIMES
        with Record.open(path) as record:
            verdict = record.verify(head)
            if not verdict.ok or verdict.inputs != count:
                raise AssertionError(verdict.sentence)
    yield under(
        "record of 4 hours, 16 houses, reckoned from half an hour in which every digit differs",
        "MB",
        Seen(size_mb, size_mb, size_mb),
        MOST_MB,
    )


if __name__ == "__main__":
    run(measure)
