"""The one connection that writes a record, and what can go wrong with it, in words.

It is used by one thread only. Between commits it holds the write lock, so that a second desk is
refused instead of mixing its batches in; readers are not kept out (WAL). It is also the only one
that checkpoints: SQLite before 3.51.3 can damage a WAL that two connections reset at once.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Self

from interlock.errors import NotARecord, RecordError, RecordExists
from interlock.journal.schema import APPLICATION_ID, SCHEMA_VERSION, TABLES, Batch, migrate

MAGIC = b"SQLite format 3\x00"
SIDE_FILES = ("-wal", "-shm", "-journal")

_INSERT_BATCH = "INSERT INTO batches VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
_INSERT_LINES = "INSERT INTO lines VALUES (?, ?)"

_IN_WORDS = {
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_READONLY: "the file or its folder is read-only",
    sqlite3.SQLITE_IOERR: "the disk reports an input/output error",
    sqlite3.SQLITE_CANTOPEN: "the file cannot be opened (is its folder there, and may it be written?)",
    sqlite3.SQLITE_PERM: "the file may not be written",
    sqlite3.SQLITE_BUSY: "another program is writing it",
    sqlite3.SQLITE_LOCKED: "another program is writing it",
    sqlite3.SQLITE_CORRUPT: "the file is damaged",
    sqlite3.SQLITE_NOTADB: "the file is damaged",
    sqlite3.SQLITE_CONSTRAINT: "another program has written into it",
}


def in_words(error: BaseException) -> str:
    """What is wrong, for a person."""
    if isinstance(error, sqlite3.Error):
        words = _IN_WORDS.get(getattr(error, "sqlite_errorcode", 0) & 0xFF)
        return f"{words} ({error})" if words else str(error)
    if isinstance(error, UnicodeDecodeError):
        return "the file is damaged"  # SQLite quotes the damaged place in its message, and that is no text
    if isinstance(error, OSError):
        return error.strerror or str(error)
    if isinstance(error, RecordError):
        return str(error)
    return f"{type(error).__name__}: {error}"


def whereabouts(path: Path) -> tuple[int, int] | None:
    """Which file stands at ``path`` (device, inode); None if there is none."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    return found.st_dev, found.st_ino


def check_head(path: Path) -> int:
    """The schema version of the record at ``path``, read from its first 100 bytes; ``NotARecord`` says what it is instead."""
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except FileNotFoundError:
        raise NotARecord(f"{path}: there is no such file") from None
    except IsADirectoryError:
        raise NotARecord(f"{path}: is a folder, not a record") from None
    except OSError as error:
        raise RecordError(f"{path}: cannot be read: {in_words(error)}") from error
    if not head:
        raise NotARecord(f"{path}: is empty: whatever began it never wrote a word")
    if not head.startswith(MAGIC) or len(head) < 100:
        raise NotARecord(f"{path}: is no record (no SQLite file)")
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise NotARecord(f"{path}: is a SQLite file of another program, not a record")
    version = int.from_bytes(head[60:64], "big")
    if version > SCHEMA_VERSION:
        raise NotARecord(
            f"{path}: was written by a newer version of this program (its form is {version}, this one knows "
            f"those up to {SCHEMA_VERSION}): update this one"
        )
    if version < 1:
        raise NotARecord(f"{path}: its form {version} was never in use")
    return version


def refuse_any(path: Path) -> None:
    """``RecordExists`` if something stands at ``path``, or beside it and would be taken for a part of it."""
    if path.is_dir():
        raise RecordExists(f"{path}: is a folder; name a file in it")
    if os.path.lexists(path):
        raise RecordExists(f"{path}: is there already; name another file, or move this one away")
    for side in SIDE_FILES:
        # A forgotten WAL of another record would be played into the new one.
        if os.path.lexists(f"{path}{side}"):
            raise RecordExists(f"{path}{side}: is left of another record; move it away, or name another file")


def rescue_path(path: Path) -> Path:
    """Where a record is rescued to, before it takes its own place again."""
    return path.with_name(f"{path.name}.rescue")


def peek(path: Path) -> str | None:
    """The hash of the last batch of whatever record stands at ``path``; None if that cannot be told."""
    try:
        check_head(path)
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=1.0)
    except (RecordError, sqlite3.Error):
        return None
    try:
        row = connection.execute("SELECT hash FROM batches ORDER BY n DESC LIMIT 1").fetchone()
    except (sqlite3.Error, UnicodeDecodeError):
        return None
    finally:
        connection.close()
    return str(row[0]) if row is not None else None


class Store:
    """A record, open for writing."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self.identity = whereabouts(path)
        self._connection = connection

    @classmethod
    def create(cls, path: Path, first: Batch) -> Self:
        """A new record with its first batch, folders made. ``OSError`` or ``sqlite3.Error``: then it leaves nothing."""
        path.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
        try:
            connection = _connect(path)
            try:
                # Not yet in WAL: so what the record is of stands in the main file from the beginning.
                connection.execute("BEGIN IMMEDIATE")
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID:d}")
                connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION:d}")
                for statement in TABLES:
                    connection.execute(statement)
                _insert(connection, [first])
                connection.execute("COMMIT")
                connection.execute("PRAGMA journal_mode = WAL")
            except BaseException:
                connection.close()
                raise
        except BaseException:
            for left in ("", *SIDE_FILES):
                Path(f"{path}{left}").unlink(missing_ok=True)
            raise
        store = cls(path, connection)
        store._hold()
        return store

    @classmethod
    def take(cls, path: Path) -> Self:
        """The record at ``path``, to go on with; ``RecordExists`` if another program is writing it."""
        version = check_head(path)
        connection = _connect(path)
        try:
            connection.execute("BEGIN IMMEDIATE")
            migrate(connection, version)
            connection.execute("COMMIT")
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            connection.close()
            if error.sqlite_errorcode & 0xFF in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
                raise RecordExists(f"{path}: another program is writing it") from error
            raise
        except BaseException:
            connection.close()
            raise
        store = cls(path, connection)
        store._hold()
        return store

    def last(self) -> tuple[int, str]:
        """(n, hash) of the last batch on disk."""
        row = self._connection.execute("SELECT n, hash FROM batches ORDER BY n DESC LIMIT 1").fetchone()
        if row is None:
            raise NotARecord(f"{self.path}: has no beginning")
        return int(row[0]), str(row[1])

    def write(self, batches: Sequence[Batch]) -> None:
        """All of ``batches`` or none, on disk when it returns."""
        # An unlinked file can be written for hours without one error.
        if whereabouts(self.path) != self.identity:
            raise RecordError("the file is gone: it was moved, deleted, or its disk was taken away")
        connection = self._connection
        try:
            if not connection.in_transaction:
                connection.execute("BEGIN IMMEDIATE")
            _insert(connection, batches)
            connection.execute("COMMIT")
        except sqlite3.Error:
            self.release()
            raise
        self._hold()

    def release(self) -> None:
        """Undo what is not committed, and give up the write lock until the next write."""
        if self._connection.in_transaction:
            with suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")

    def rescue(self, copy: Path) -> None:
        """Write all of the record to ``copy``; works after its file has been deleted, too."""
        self.release()
        copy.unlink(missing_ok=True)
        self._connection.execute("VACUUM INTO ?", (str(copy),))
        descriptor = os.open(copy, os.O_RDWR)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)

    def finish(self, timeout_s: float) -> bool:
        """Close for good, as one file. False if a reader kept it from that: what it still reads from stays beside it."""
        self.release()
        connection = self._connection
        try:
            connection.execute(f"PRAGMA busy_timeout = {int(timeout_s * 1_000):d}")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            one_file: bool = connection.execute("PRAGMA journal_mode = DELETE").fetchone()[0] == "delete"
        except sqlite3.Error:
            one_file = False
        self.close()
        return one_file

    def close(self) -> None:
        """Close the connection, whatever it is in."""
        self.release()
        with suppress(sqlite3.Error):
            self._connection.close()

    def _hold(self) -> None:
        with suppress(sqlite3.Error):  # the next write asks again, and then it matters
            self._connection.execute("BEGIN IMMEDIATE")


def _connect(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?mode=rw", uri=True, timeout=1.0, isolation_level=None
    )
    connection.execute("PRAGMA synchronous = FULL")
    return connection


def _insert(connection: sqlite3.Connection, batches: Sequence[Batch]) -> None:
    connection.executemany(
        _INSERT_BATCH,
        [
            (b.n, b.kind, b.wall_ms, b.first_input, b.inputs, b.line_count, b.lost, b.hash, b.note, b.data)
            for b in batches
        ],
    )
    connection.executemany(_INSERT_LINES, [(b.n, b.lines) for b in batches if b.lines])
