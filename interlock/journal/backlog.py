"""Sealed batches on their way to the disk, and how a disk that failed is taken up again."""

from __future__ import annotations

import sqlite3
from collections import deque
from itertools import islice
from pathlib import Path

from interlock.errors import RecordError
from interlock.journal.files import peek, rescue_path, whereabouts
from interlock.journal.schema import GENESIS, Batch
from interlock.journal.store import Store

AT_ONCE = 64
"""Batches of one transaction at most, so that a long backlog is not all or nothing."""

# Errors after which a connection is as good as before; after any other it is opened anew.
_HARMLESS = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}


class Backlog:
    """Batches that are not on disk yet, oldest first. Used by the writer's thread; its figures may be read by any.

    ``head``: hash of the last batch on disk, ``GENESIS`` while there is none.
    """

    def __init__(self, path: Path, head: str = GENESIS) -> None:
        self.path = path
        self.head = head
        self.bytes = 0
        self.inputs = self.lines = self.batches = 0
        """Written so far, by this writer."""
        self._pending: deque[Batch] = deque()
        self._store: Store | None = None
        self._doubtful = False  # the last attempt failed: what of it reached the disk must be looked up
        self._reopen = False

    def __len__(self) -> int:
        return len(self._pending)

    def push(self, batch: Batch) -> None:
        """One more to write."""
        self._pending.append(batch)
        self.bytes += _size(batch)

    def write(self) -> None:
        """Write all of them in order; ``sqlite3.Error``, ``OSError`` or ``RecordError`` if that cannot be done now.

        Whatever it was, the next call looks up how far it got.
        """
        try:
            store = self._open_store()
            while self._pending:
                some = list(islice(self._pending, AT_ONCE))
                store.write(some)
                self._done(len(some))
        except BaseException as error:
            self._doubtful = True
            code = getattr(error, "sqlite_errorcode", 0) & 0xFF
            self._reopen = self._reopen or code not in _HARMLESS
            raise

    def finish(self, timeout_s: float) -> bool:
        """Close the record; True if it is one file now."""
        store, self._store = self._store, None
        return store.finish(timeout_s) if store is not None else False

    def abandon(self) -> None:
        """Close without more ado: the disk does not take it."""
        store, self._store = self._store, None
        if store is not None:
            store.close()

    def _done(self, count: int) -> None:
        for _ in range(count):
            batch = self._pending.popleft()
            self.bytes -= _size(batch)
            self.inputs += batch.inputs
            self.lines += batch.line_count
            self.batches += 1
            self.head = batch.hash

    def _open_store(self) -> Store:
        if self._store is not None and not self._doubtful:
            return self._store
        if self._store is None and self.head == GENESIS:
            self._store = Store.create(self.path, self._pending[0])
            self._done(1)
        else:
            self._take_up()
        assert self._store is not None
        self._skip_written(self._store)
        self._doubtful = self._reopen = False
        return self._store

    def _take_up(self) -> None:
        """After a failure, or to resume: make sure that the file at the path is this record, and open it."""
        there, store = whereabouts(self.path), self._store
        if store is not None and there == store.identity and not self._reopen:
            return
        copy = rescue_path(self.path)
        if there is None and store is not None and self.path.parent.is_dir():
            store.rescue(copy)  # the open connection still has all of a file that was deleted
        elif there is None and not copy.exists():
            raise RecordError("the file is gone, and its folder with it; it goes on when they are back")
        elif store is not None and there != store.identity and peek(self.path) != self.head:
            raise RecordError("another file stands in its place: move that away")
        # Closed before anything new is opened: SQLite's last act on a deleted file is to delete the
        # WAL of that name, whosever it is by then.
        self.abandon()
        if there is None:
            copy.rename(self.path)
        self._store = Store.take(self.path)

    def _skip_written(self, store: Store) -> None:
        """A commit that reported an error may have reached the disk all the same."""
        _, last = store.last()
        if last == self.head:
            return
        for count, batch in enumerate(self._pending, 1):
            if batch.hash == last:
                self._done(count)
                return
        self.abandon()
        raise RecordError("another program has written into it")


def _size(batch: Batch) -> int:
    return len(batch.data) + len(batch.lines) + len(batch.note) + 300
