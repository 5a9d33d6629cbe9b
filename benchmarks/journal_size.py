"""The record of a four-hour show of sixteen houses: how large, and how long it takes to read and to verify.

Every batch holds what came in during 100 ms, as it does live. Fails (exit 1) at 150 MB or more. Takes about a minute.
"""

from __future__ import annotations

import random
import sqlite3
import statistics
import sys
import tempfile
import time
from pathlib import Path

from benchmarks._journal_readings import META, readings
from interlock.journal import Record
from interlock.journal.schema import GENESIS, Batch, meta_to_json
from interlock.journal.sealer import Entry, Sealer
from interlock.journal.store import Store
from interlock.watch.state import HouseLine, Line, LinkLine

SECONDS = 4 * 3_600
MOST_MB = 150


def second(n: int, chance: random.Random) -> list[Line]:
    """The lines of every second, of which the record keeps the figures."""
    at = f"2026-12-05T{20 + n // 3600:02}:{n // 60 % 60:02}:{n % 60:02}.000Z"
    base = {"seq": n, "at": at, "show_s": n + chance.random(), "periodic": True}
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


def seconds(f: object) -> tuple[float, object]:
    start = time.perf_counter()
    result = f()  # type: ignore[operator]
    return time.perf_counter() - start, result


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "four-hours.record"
        count, head = write(path)
        size_mb = path.stat().st_size / 1e6
        connection = sqlite3.connect(path)
        batches, data, notes = connection.execute(
            "SELECT count(*), sum(length(data)), sum(length(note)) FROM batches"
        ).fetchone()
        connection.close()
        with Record.open(path) as record:
            verify_s, verdict = seconds(lambda: record.verify(head))
            read_s, read = seconds(lambda: sum(1 for _ in record.inputs()))
            jumps = [
                seconds(lambda n=n: next(record.inputs(n)))[0]
                for n in range(0, count, count // 50)  # type: ignore[misc]
            ]
        if not verdict.ok or read != count:  # type: ignore[attr-defined]
            raise AssertionError(verdict)
    print(
        f"{count:,} inputs in {batches:,} batches: {size_mb:.1f} MB, {data / 1e6:.1f} MB of it inputs, "
        f"{notes / 1e6:.1f} MB what is drawn of every second"
    )
    print(
        f"verify {verify_s:.2f} s, read all inputs {read_s:.2f} s, go to any input {statistics.median(jumps) * 1e3:.2f} ms"
    )
    return int(size_mb >= MOST_MB)


if __name__ == "__main__":
    sys.exit(main())
