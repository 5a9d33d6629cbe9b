"""Rows of a file that may have been tampered with, as batches."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any

from interlock.journal.packing import decompress
from interlock.journal.schema import GENESIS, Batch, chain

_PAGE = 256

_SELECT = """
SELECT b.n, b.kind, b.wall_ms, b.first_input, b.inputs, b.line_count, b.lost, b.hash, b.note, b.data, l.data
FROM batches AS b LEFT JOIN lines AS l ON l.n = b.n WHERE b.n > ? ORDER BY b.n LIMIT ?
"""


def batches(connection: sqlite3.Connection) -> Iterator[Batch]:
    """Every batch that is there, by number."""
    n = -(1 << 62)
    while True:
        rows = connection.execute(_SELECT, (n, _PAGE)).fetchall()
        yield from map(_batch, rows)
        if len(rows) < _PAGE:
            return
        n = rows[-1][0]


def _batch(row: tuple[Any, ...]) -> Batch:
    """A row of any content as a batch: what is of the wrong type becomes something that no hash can fit."""
    n, kind, wall_ms, first, inputs, count, lost, digest, note, data, lines = row
    return Batch(
        n=n,
        kind=_text(kind),
        wall_ms=_number(wall_ms),
        first_input=_number(first),
        inputs=_number(inputs),
        line_count=_number(count),
        lost=_number(lost),
        hash=_text(digest),
        note=_text(note),
        data=data if isinstance(data, bytes) else b"",
        lines=_text(lines),
    )


def _number(value: object) -> int:
    return value if isinstance(value, int) else -1


def _text(value: object) -> str:
    if value is None:
        return ""
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)


def ends_fit(connection: sqlite3.Connection) -> bool:
    """Whether the first batch and the last are as they were written: a look, where :func:`verify` takes seconds."""
    previous = GENESIS
    rows = [
        *connection.execute(_SELECT, (-1, 1)).fetchall(),
        *connection.execute(_SELECT, (_next_to_last(connection) - 1, 2)).fetchall(),
    ]
    for n, row in enumerate(rows):
        batch = _batch(row)
        try:
            fits = chain(previous, batch, decompress(batch.data)) == batch.hash
        except ValueError:
            return False
        if n != 1 and not fits:  # the next to last is only there for its hash
            return False
        previous = batch.hash
    return bool(rows)


def _next_to_last(connection: sqlite3.Connection) -> int:
    row = connection.execute("SELECT n FROM batches ORDER BY n DESC LIMIT 1 OFFSET 1").fetchone()
    return int(row[0]) if row is not None else 1 << 62
