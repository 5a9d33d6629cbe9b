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
from interlock.journal.files import SIDE_FILES, check_head, whereabouts
from interlock.journal.schema import APPLICATION_ID, SCHEMA_VERSION, TABLES, Batch, migrate

_INSERT_BATCH = "INSERT INTO batches VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
_INSERT_LINES = "INSERT INTO lines VALUES (?, ?)"


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
