"""The station's own journal: every reading until the desk has said that it has it.

One SQLite file. Numbers rise by one for each reading of an adapter and are never given twice, also over a restart of
the station; so do the station's seconds, which go on by the wall clock if the computer was started anew.
"""

from __future__ import annotations

import secrets
import sqlite3
from pathlib import Path

import msgspec

from interlock.clock import SystemClock
from interlock.errors import RecordError
from interlock.signals import Reading
from interlock.text import clean

MOST_KEPT = 2_000_000
"""Readings of one adapter: most of a day. Older ones go, and the desk counts them as lost."""
_BOOT = Path("/proc/sys/kernel/random/boot_id")
_TABLES = """
CREATE TABLE IF NOT EXISTS meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS last (adapter TEXT PRIMARY KEY, n INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS kept (adapter TEXT, n INTEGER, reading BLOB NOT NULL, PRIMARY KEY (adapter, n)) WITHOUT ROWID;
"""
_READ: msgspec.json.Decoder[Reading] = msgspec.json.Decoder(Reading)
_WRITE = msgspec.json.Encoder()


class Journal:
    """Used by one loop. What was added is on disk with the next :meth:`commit`."""

    def __init__(self, path: Path, clock: SystemClock) -> None:
        """Raises ``RecordError`` if it cannot be had. Sets the clock on if the computer was started anew."""
        self._clock = clock
        self.path = path
        try:
            self._db = sqlite3.connect(path, isolation_level=None)
        except sqlite3.Error as error:
            raise _failed(path, error) from error
        try:
            self._db.execute("PRAGMA journal_mode = WAL")
            self._db.execute("PRAGMA synchronous = NORMAL")
            self._db.executescript(_TABLES)
            self._db.execute("BEGIN IMMEDIATE")
            self.name = self._meta("name") or secrets.token_hex(8)
            self.life = int(self._meta("life") or 0)
            self._go_on()
            self._last: dict[str, int] = dict(self._db.execute("SELECT adapter, n FROM last"))
            self._first: dict[str, int] = {adapter: n + 1 for adapter, n in self._last.items()} | {
                adapter: int(n)
                for adapter, n in self._db.execute("SELECT adapter, min(n) FROM kept GROUP BY adapter")
            }
            self._set("name", self.name)
            self.commit()
        except (sqlite3.Error, ValueError) as error:
            self._db.close()
            raise _failed(path, error) from error

    def begin_life(self) -> int:
        """The number of the next connection, on disk before it is used."""
        self.life += 1
        self._set("life", str(self.life))
        self.commit()
        return self.life

    def add(self, reading: Reading) -> int:
        """Its number."""
        adapter = reading.adapter
        n = self._last[adapter] = self._last.get(adapter, 0) + 1
        self._db.execute("INSERT INTO kept VALUES (?, ?, ?)", (adapter, n, _WRITE.encode(reading)))
        if n - self.first(adapter) >= MOST_KEPT:
            self.drop(adapter, n - MOST_KEPT)
        return n

    def first(self, adapter: str) -> int:
        """The oldest number that is kept; one more than the last if there is none."""
        return self._first.get(adapter, 1)

    def last(self, adapter: str) -> int:
        """The newest number."""
        return self._last.get(adapter, 0)

    def kept(self, adapter: str, first: int, last: int) -> list[tuple[int, Reading]]:
        """Readings of these numbers that are kept."""
        rows = self._db.execute(
            "SELECT n, reading FROM kept WHERE adapter = ? AND n BETWEEN ? AND ? ORDER BY n",
            (adapter, first, last),
        )
        return [(n, _READ.decode(body)) for n, body in rows]

    def drop(self, adapter: str, have: int) -> None:
        """The desk has everything up to ``have``."""
        have = min(have, self.last(adapter))
        if have >= self.first(adapter):
            self._db.execute("DELETE FROM kept WHERE adapter = ? AND n <= ?", (adapter, have))
            self._first[adapter] = have + 1

    def commit(self) -> None:
        """Everything so far to disk. Raises ``sqlite3.Error`` if the disk does not take it."""
        self._set("now_s", repr(self._clock.now_s()))
        self._set("wall_s", repr(self._clock.wall_s()))
        self._db.executemany("INSERT OR REPLACE INTO last VALUES (?, ?)", self._last.items())
        self._db.execute("COMMIT")
        self._db.execute("BEGIN IMMEDIATE")

    def note(self, key: str, text: str) -> None:
        """Keep a word of the station's own, in place of the one before. On disk with the next :meth:`commit`."""
        self._set(f"note {key}", text)

    def noted(self, key: str) -> str | None:
        """What :meth:`note` kept last."""
        return self._meta(f"note {key}")

    def close(self) -> None:
        """Commit and close."""
        try:
            self.commit()
        finally:
            self._db.close()

    def _go_on(self) -> None:
        boot = _BOOT.read_text(encoding="ascii").strip() if _BOOT.exists() else ""
        then_s, then_wall_s = self._meta("now_s"), self._meta("wall_s")
        offset_s = float(self._meta("offset_s") or 0.0)
        if then_s is not None and then_wall_s is not None:
            self._clock.offset_s += offset_s
            if boot != self._meta("boot") or self._clock.now_s() < float(then_s):
                away_s = max(0.0, self._clock.wall_s() - float(then_wall_s))
                more_s = float(then_s) + away_s - self._clock.now_s()
                self._clock.offset_s += more_s
                offset_s += more_s
        self._set("boot", boot)
        self._set("offset_s", repr(offset_s))

    def _meta(self, key: str) -> str | None:
        row = self._db.execute("SELECT value FROM meta WHERE key = ?", (key,)).fetchone()
        return None if row is None else str(row[0])

    def _set(self, key: str, value: str) -> None:
        self._db.execute("INSERT OR REPLACE INTO meta VALUES (?, ?)", (key, value))


def _failed(path: Path, error: Exception) -> RecordError:
    return RecordError(
        clean(f"{path}: the station's journal cannot be used: {error}; move it away, or name another", 500)
    )
