"""What stands at a path, without opening it for writing; and what is wrong with it, in words."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from pathlib import Path

from interlock.errors import NotARecord, RecordAltered, RecordError, RecordExists
from interlock.journal.schema import APPLICATION_ID, SCHEMA_VERSION

MAGIC = b"SQLite format 3\x00"
SIDE_FILES = ("-wal", "-shm", "-journal")

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


def refusal(path: Path, error: sqlite3.Error | UnicodeDecodeError | OSError) -> RecordError:
    """The error for a file that is a record by its first bytes and cannot be read: damaged, or only out of reach?"""
    damaged = {
        sqlite3.SQLITE_CORRUPT,
        sqlite3.SQLITE_NOTADB,
        sqlite3.SQLITE_ERROR,
    }  # the last: a table is missing
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if isinstance(error, UnicodeDecodeError) or code in damaged:
        return RecordAltered(f"{path}: cannot be read: {in_words(error)}")
    return RecordError(f"{path}: cannot be read: {in_words(error)}")


def open_read_only(path: Path) -> tuple[sqlite3.Connection, tempfile.TemporaryDirectory[str] | None]:
    """Read-only. A record that was cut off has a WAL beside it, which SQLite reads only where it may write: then from a copy."""
    try:
        return _read_only(path, "mode=ro"), None
    except (sqlite3.Error, UnicodeDecodeError) as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code not in {sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY}:
            raise refusal(path, error) from error
    wal = Path(f"{path}-wal")
    copy = None
    try:
        if not (wal.exists() and wal.stat().st_size):
            return _read_only(path, "mode=ro&immutable=1"), None
        copy = tempfile.TemporaryDirectory(prefix="record-")
        shutil.copyfile(path, Path(copy.name) / "record")
        shutil.copyfile(wal, Path(copy.name) / "record-wal")
        return _read_only(Path(copy.name) / "record", "mode=rw"), copy
    except (sqlite3.Error, UnicodeDecodeError, OSError) as error:
        if copy is not None:
            copy.cleanup()
        raise refusal(path, error) from error


def _read_only(path: Path, how: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?{how}", uri=True, timeout=1.0, check_same_thread=False
    )
    try:
        connection.execute("SELECT 1 FROM batches LIMIT 1").fetchall()
    except BaseException:
        connection.close()
        raise
    return connection
