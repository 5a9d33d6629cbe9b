"""Rows a second into the record, beside bare ``sqlite3`` and ``aiosqlite`` with the same rows, WAL, synchronous FULL.

A row is one reading of an adapter. The peers get theirs as bytes made beforehand, a row of the table each, in one
``executemany`` a commit. The record gets readings, and encodes, chains, compresses and hands them to another thread within its
time. 20,000 a commit is what comes in during 100 ms at the record's own full speed, 1,000 in a rehearsal at some 180 times life.
"""

from __future__ import annotations

import asyncio
import itertools
import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import aiosqlite
import msgspec

from benchmarks._journal_readings import META, readings
from benchmarks._row import Row, beside, interleaved, run
from interlock.journal import JournalWriter, Record
from interlock.watch.inputs import Input

ROUNDS = 5
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


def bare(path: Path, batches: Batches, rows: Rows) -> float:
    connection = sqlite3.connect(path, isolation_level=None)
    for statement in (*PRAGMAS, TABLE):
        connection.execute(statement)
    start = time.perf_counter()
    for batch in rows:
        connection.execute("BEGIN")
        connection.executemany(INSERT, batch)
        connection.execute("COMMIT")
    took = time.perf_counter() - start
    connection.close()
    return took


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
    "bare sqlite3 executemany": bare,
    "aiosqlite": aiosqlite_rows,
}


HELD = (
    "within its time the record also encodes, compresses and chains, in two threads: the fewer cores are free, the more of it is "
    "seen; the peers are given bytes."
)


def side_by_side(size: int, inputs: Sequence[Input]) -> Iterator[Row]:
    batches = [inputs[n : n + size] for n in range(0, len(inputs), size)]
    rows = rows_of(batches)

    def speed(way: Callable[[Path, Batches, Rows], float]) -> Callable[[], float]:
        def once() -> float:
            with tempfile.TemporaryDirectory() as folder:
                return len(inputs) / way(Path(folder) / "bench.db", batches, rows)

        return once

    found = interleaved({name: speed(way) for name, way in WAYS.items()}, ROUNDS)
    for peer, at_least in (("bare sqlite3 executemany", 0.7), ("aiosqlite", 1.0)):
        yield beside(
            f"journal, {size:,} readings a commit, synchronous FULL",
            "rows/s",
            found["the record"],
            peer,
            found[peer],
            at_least=at_least,
            more_is_better=True,
            held_back=HELD,
        )


def measure() -> Iterator[Row]:
    inputs = [x for each in readings(1_800) for x in each]
    yield from side_by_side(20_000, inputs)
    yield from side_by_side(1_000, inputs[:20_000])


if __name__ == "__main__":
    run(measure)
