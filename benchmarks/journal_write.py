"""Rows a second into the record, beside bare ``sqlite3`` and ``aiosqlite`` with the same rows, WAL, synchronous FULL.

A row is one reading of an adapter. The peers get theirs as bytes, a row of the table each, in one ``executemany`` a
commit; what it costs to make bytes of readings is left out for them ("encoded") or not ("and encoding"). The record gets
readings, and chains, compresses and hands them to another thread within its time. Fails (exit 1) below 0.7 of the bare one
(encoded) or if not ahead of ``aiosqlite`` (encoded), with 20,000 readings a commit: 100 ms at full speed.
"""

from __future__ import annotations

import asyncio
import itertools
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import aiosqlite
import msgspec

from benchmarks._journal_readings import META, readings
from interlock.journal import JournalWriter, Record
from interlock.watch.inputs import Input

ROUNDS = 7
PRAGMAS = ("PRAGMA journal_mode = WAL", "PRAGMA synchronous = FULL")
TABLE = "CREATE TABLE rows (seq INTEGER PRIMARY KEY, data BLOB NOT NULL)"
INSERT = "INSERT INTO rows VALUES (?, ?)"
encode = msgspec.msgpack.Encoder().encode

Batches = Sequence[Sequence[Input]]
Rows = Sequence[Sequence[tuple[int, bytes]]]


def rows_of(batches: Batches) -> Rows:
    seq = itertools.count()
    return [[(next(seq), encode(x)) for x in batch] for batch in batches]


def record(path: Path, batches: Batches, rows: Rows) -> float:
    writer = JournalWriter.create(path, META, on_health=lambda ok, text: None)
    writer.flush()
    start = time.perf_counter()
    for batch in batches:
        for x in batch:
            writer.put(x, ())
        if not writer.flush(60.0):
            raise AssertionError("the disk does not take it")
    took = time.perf_counter() - start
    head = writer.close()
    with Record.open(path) as written:
        verdict = written.verify(head)
        if not verdict.ok or verdict.inputs != sum(map(len, batches)):
            raise AssertionError(verdict.sentence)
    return took


def bare(path: Path, batches: Batches, rows: Rows, *, encoding: bool = False) -> float:
    connection = sqlite3.connect(path, isolation_level=None)
    for statement in (*PRAGMAS, TABLE):
        connection.execute(statement)
    start = time.perf_counter()
    for batch in rows_of(batches) if encoding else rows:
        connection.execute("BEGIN")
        connection.executemany(INSERT, batch)
        connection.execute("COMMIT")
    took = time.perf_counter() - start
    connection.close()
    return took


def bare_encoding(path: Path, batches: Batches, rows: Rows) -> float:
    return bare(path, batches, rows, encoding=True)


def aiosqlite_rows(path: Path, batches: Batches, rows: Rows) -> float:
    async def write() -> float:
        async with aiosqlite.connect(path, isolation_level=None) as connection:
            for statement in (*PRAGMAS, TABLE):
                await connection.execute(statement)
            start = time.perf_counter()
            for batch in rows:
                await connection.execute("BEGIN")
                await connection.executemany(INSERT, batch)
                await connection.execute("COMMIT")
            return time.perf_counter() - start

    return asyncio.run(write())


WAYS: dict[str, Callable[[Path, Batches, Rows], float]] = {
    "the record": record,
    "bare sqlite3 (encoded)": bare,
    "bare sqlite3 and encoding": bare_encoding,
    "aiosqlite (encoded)": aiosqlite_rows,
}


def measure(size: int, inputs: Sequence[Input]) -> dict[str, float]:
    batches = [inputs[n : n + size] for n in range(0, len(inputs), size)]
    rows = rows_of(batches)
    speeds: dict[str, list[float]] = {name: [] for name in WAYS}
    for _ in range(ROUNDS):
        for name, way in WAYS.items():
            with tempfile.TemporaryDirectory() as folder:
                speeds[name].append(len(inputs) / way(Path(folder) / "bench.db", batches, rows))
    base = statistics.median(speeds["bare sqlite3 (encoded)"])
    print(f"\n{len(inputs):,} readings, {size:,} a commit")
    print(f"{'':28}{'rows/s':>10} {'least … most':>22} {'of the bare one':>17}")
    for name, seen in speeds.items():
        spread = f"{min(seen):,.0f} … {max(seen):,.0f}"
        print(
            f"{name:28}{statistics.median(seen):10,.0f} {spread:>22} {statistics.median(seen) / base:15.2f} ×"
        )
    return {name: statistics.median(seen) for name, seen in speeds.items()}


def main() -> int:
    inputs = [x for each in readings(1_800) for x in each]
    full = measure(20_000, inputs)
    measure(1_000, inputs[:20_000])
    bad = (
        full["the record"] < 0.7 * full["bare sqlite3 (encoded)"]
        or full["the record"] <= full["aiosqlite (encoded)"]
    )
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
