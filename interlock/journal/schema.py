"""What a record is on disk: its tables, its chain, and what stands at its beginning.

One SQLite file. ``batches`` holds everything that was folded, one row for what came in during 100 ms;
``lines`` what the desk said to it. docs/record.md describes it for people who have only the file.

Why a row holds a batch and not an input: the ``sqlite3`` module lets go of the interpreter's lock for
every row, and gets it back only when a busy desk happens to pause, up to 5 ms later. A rehearsal at
full speed would fall behind without end. A whole batch costs one such exchange, and compresses.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable
from typing import Literal, TypeAlias

import msgspec

APPLICATION_ID = 0x4C4C7265  # "LLre", at byte 68 of the file: tells a record from other SQLite files
SCHEMA_VERSION = 1
GENESIS = "0" * 64
"""What the first batch's hash is chained to."""
MOST_INPUTS = 2_000
"""Inputs of one batch at most, so that any moment of a record is read without reading much around it."""
Kind: TypeAlias = Literal["start", "data", "resumed", "end"]

TABLES = (
    """
CREATE TABLE batches (
    n           INTEGER PRIMARY KEY,  -- 0, 1, 2, …
    kind        TEXT NOT NULL,        -- start, data, resumed, end
    wall_ms     INTEGER NOT NULL,     -- when it was sealed, UTC milliseconds since 1970
    first_input INTEGER NOT NULL,     -- number of its first input, from 0
    inputs      INTEGER NOT NULL,     -- how many inputs
    line_count  INTEGER NOT NULL,     -- how many lines, in the row of the table lines with the same n
    lost        INTEGER NOT NULL,     -- inputs that had to be dropped just before this batch
    hash        TEXT NOT NULL,        -- SHA-256, hexadecimal, over the hash before and all of this
    note        TEXT NOT NULL,        -- JSON: of the start, the show and the program; else small or empty
    data        BLOB NOT NULL         -- the inputs: zlib of a MessagePack array
)""",
    """
CREATE TABLE lines (
    n           INTEGER PRIMARY KEY,  -- of the batch
    data        TEXT NOT NULL         -- JSON: [[number of the input, {the line}], …]
)""",
)

MIGRATIONS: list[Callable[[sqlite3.Connection], None]] = []
"""``MIGRATIONS[v - 1]`` brings the tables of schema v to v + 1. It may lay out tables anew, but never
change what a batch's hash covers. Readers apply them to a copy in memory, ``resume`` to the file."""


class RecordMeta(msgspec.Struct, frozen=True):
    """What a record is of. ``show_source`` is the show file's whole text, ``scenario`` that of the faults of a rehearsal.

    ``timezone``: the resolved IANA name. ``started_wall_s``: UTC seconds since the epoch.
    ``program``, ``python``: versions.
    """

    show_path: str
    show_source: str
    title: str
    program: str
    python: str
    timezone: str
    started_wall_s: float
    rehearsal: bool
    seed: int | None
    scenario: str | None


class Batch(msgspec.Struct, frozen=True):
    """One batch as it is stored. ``lines`` is the empty text where there are none."""

    n: int
    kind: str
    wall_ms: int
    first_input: int
    inputs: int
    line_count: int
    lost: int
    hash: str
    note: str
    data: bytes
    lines: str

    @property
    def next_input(self) -> int:
        """Number of the input after its last one."""
        return self.first_input + self.inputs


_to_json = msgspec.json.Encoder().encode
_meta_from_json = msgspec.json.Decoder(RecordMeta).decode


def chain(previous: str, batch: Batch, packed: bytes) -> str:
    """The hash of ``batch``, whose inputs unpack to ``packed``, after the batch with the hash ``previous``.

    SHA-256 over one line of JSON with no blanks, ending in a newline, then the note, the packed
    inputs and the lines, each as its bytes; the lengths in the JSON keep them apart.
    """
    note, lines = batch.note.encode(), batch.lines.encode()
    head = [
        previous,
        batch.n,
        batch.kind,
        batch.wall_ms,
        batch.first_input,
        batch.inputs,
        batch.line_count,
        batch.lost,
        len(note),
        len(packed),
        len(lines),
    ]
    digest = hashlib.sha256(_to_json(head))
    for part in (b"\n", note, packed, lines):
        digest.update(part)
    return digest.hexdigest()


def meta_to_json(meta: RecordMeta) -> str:
    """The note of the first batch. A path's bytes that are no text become escapes."""
    path = meta.show_path.encode("utf-8", "backslashreplace").decode()
    return _to_json(msgspec.structs.replace(meta, show_path=path)).decode()


def meta_from_json(note: str | bytes) -> RecordMeta:
    """What :func:`meta_to_json` wrote; ``msgspec.DecodeError`` if it did not."""
    return _meta_from_json(note)


def migrate(connection: sqlite3.Connection, version: int) -> None:
    """Bring the tables of schema ``version`` up to :data:`SCHEMA_VERSION`, in one transaction."""
    for step in range(version, SCHEMA_VERSION):
        MIGRATIONS[step - 1](connection)
    connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION:d}")
