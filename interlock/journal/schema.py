"""What a record is on disk, and the only places that turn it into bytes and back.

One SQLite file. ``batches`` holds everything that was folded, one row for what came in during 100 ms;
``lines`` what the desk said to it. docs/record.md describes it for people who have only the file.

Why a row holds a batch and not an input: the ``sqlite3`` module lets go of the interpreter's lock for
every row, and gets it back only when a busy desk happens to pause, up to 5 ms later. A rehearsal at
full speed would fall behind without end. A whole batch costs one such exchange, and compresses.

Why MessagePack for inputs: every 64-bit float comes back bit for bit (JSON has no NaN), at a third of
the cost of JSON while the interpreter's lock is held, and there is a library for every language. Lines are JSON,
as in ``--plain``, because people look at them.
"""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from collections.abc import Callable, Sequence
from typing import Any, Literal, TypeAlias, Union, get_args

import msgspec

from interlock.watch.inputs import Action, Input
from interlock.watch.state import ErrorLine, Line

APPLICATION_ID = 0x4C4C7265  # "LLre", at byte 68 of the file: tells a record from other SQLite files
SCHEMA_VERSION = 1
GENESIS = "0" * 64
"""What the first batch's hash is chained to."""
MOST_INPUTS = 2_000
"""Inputs of one batch at most, so that any moment of a record is read without reading much around it."""
MOST_BYTES = 256 << 20
"""A batch that unpacks to more than this was not written by this program."""

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


class Did(msgspec.Struct, frozen=True, tag="action", array_like=True):
    """An action among the inputs, which are all arrays: ``["action", {…}]``."""

    action: Action


class Unwritable(msgspec.Struct, frozen=True, tag="unwritable", array_like=True):
    """Stands where an input could not be put into bytes (a text that is no Unicode); ``text`` is its ``repr``."""

    text: str


# Taken from the union itself, so that an input which is added to it can be recorded without a word here.
_Stored: Any = Union[(*(t for t in get_args(Input) if t is not Action), Did, Unwritable)]
_pack = msgspec.msgpack.Encoder().encode
_unpack = msgspec.msgpack.Decoder(list[_Stored]).decode
_to_json = msgspec.json.Encoder().encode
_lines_from_json = msgspec.json.Decoder(list[tuple[int, Line]]).decode
_meta_from_json = msgspec.json.Decoder(RecordMeta).decode

# What the encoders raise for what they cannot put into bytes.
_UNENCODABLE = (TypeError, ValueError, OverflowError, RecursionError)


def pack_inputs(inputs: Sequence[Input]) -> bytes:
    """The MessagePack array of a batch. Never fails: what cannot be encoded leaves an :class:`Unwritable`."""
    stored: Sequence[object] = inputs
    if Action in set(map(type, inputs)):
        stored = [Did(x) if type(x) is Action else x for x in inputs]
    try:
        return _pack(stored)
    except _UNENCODABLE:
        return _pack([_encodable(x) for x in stored])


def _encodable(x: object) -> object:
    try:
        _pack(x)
    except _UNENCODABLE:
        return Unwritable(_printable(repr(x)))
    return x


def _printable(text: str) -> str:
    return text[:2_000].encode("ascii", "backslashreplace").decode("ascii")


def unpack_inputs(packed: bytes) -> list[Input]:
    """The inputs of a batch; ``msgspec.DecodeError`` or ``ValueError`` if these are none."""
    inputs: list[Input] = []
    for x in _unpack(packed):
        if type(x) is Did:
            inputs.append(x.action)
        elif type(x) is Unwritable:
            raise ValueError(f"an input could not be recorded: {x.text}")
        else:
            inputs.append(x)
    return inputs


def pack_lines(lines: Sequence[tuple[int, Line]]) -> str:
    """JSON of ``[[number of the input, line], …]``; the empty text for none. Never fails, as with inputs."""
    if not lines:
        return ""
    try:
        return _to_json(lines).decode()
    except _UNENCODABLE:
        return _to_json([(seq, _encodable_line(line)) for seq, line in lines]).decode()


def _encodable_line(line: Line) -> Line:
    try:
        _to_json(line)
    except _UNENCODABLE:
        text = f"could not be recorded: {_printable(repr(line))}"
        return ErrorLine(seq=line.seq, at=line.at, show_s=line.show_s, text=text)
    return line


def unpack_lines(text: str | bytes) -> list[tuple[int, Line]]:
    """What :func:`pack_lines` wrote; ``msgspec.DecodeError`` if it did not."""
    return _lines_from_json(text) if text else []


def compress(packed: bytes) -> bytes:
    """Level 1: the times differ in every digit that matters, so that more effort wins 5 % for twice the time."""
    return zlib.compress(packed, 1) if packed else b""


def decompress(data: bytes) -> bytes:
    """The MessagePack array of ``batches.data``; ``ValueError`` if it is none."""
    if not data:
        return b""
    unpacker = zlib.decompressobj()
    try:
        packed = unpacker.decompress(data, MOST_BYTES)
    except zlib.error as error:
        raise ValueError(f"its inputs cannot be unpacked ({error})") from error
    if not unpacker.eof or unpacker.unused_data:
        raise ValueError("its inputs cannot be unpacked (too long or too short)")
    return packed


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
