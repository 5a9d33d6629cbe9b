"""Reading a record: ended, cut off, or while it is being written. Nothing here changes a file."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import msgspec

from interlock.errors import RecordAltered
from interlock.journal.files import check_head, open_read_only, refusal
from interlock.journal.packing import decompress, unpack_inputs, unpack_lines
from interlock.journal.rows import ends_fit
from interlock.journal.schema import SCHEMA_VERSION, RecordMeta, meta_from_json, migrate
from interlock.journal.verify import Verdict, verify
from interlock.watch.inputs import Input
from interlock.watch.seconds import Second, unpack_seconds
from interlock.watch.state import Line

PAGE = 256
"""Batches read at a time: a reader that lingers must not keep the writer from reusing its WAL."""


class Record:
    """A record, open for reading. Close it, or use it in a ``with``."""

    def __init__(
        self, path: Path, connection: sqlite3.Connection, copy: tempfile.TemporaryDirectory[str] | None
    ) -> None:
        self.path = path
        self._connection = connection
        self._copy = copy
        first = self._row("SELECT kind, note FROM batches WHERE n = 0")
        if first is None or first[0] != b"start":
            raise RecordAltered(f"{path}: has no beginning: its first batch was taken out")
        try:
            self.meta: RecordMeta = meta_from_json(first[1])
        except (msgspec.DecodeError, TypeError) as error:
            raise RecordAltered(f"{path}: its beginning cannot be read ({error})") from error

    @classmethod
    def open(cls, path: str | Path) -> Record:
        """``NotARecord`` says what the file is instead, ``RecordAltered`` that it is so damaged that there is nothing to read,
        ``RecordError`` what else keeps it from being read.
        """
        path = Path(path)
        version = check_head(path)
        connection, copy = open_read_only(path)
        try:
            if version < SCHEMA_VERSION:
                memory = sqlite3.connect(":memory:", check_same_thread=False)
                connection.backup(memory)
                connection.close()
                connection = memory
                migrate(connection, version)
                connection.commit()
            connection.text_factory = bytes  # a damaged text must not stop the reading of the others
            return cls(path, connection, copy)
        except BaseException as error:
            connection.close()
            if copy is not None:
                copy.cleanup()
            if isinstance(error, sqlite3.Error | UnicodeDecodeError):
                raise refusal(path, error) from error
            raise

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()
        if self._copy is not None:
            self._copy.cleanup()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def ended(self) -> bool:
        """It has an end mark. Without one it was cut off, or is still being written."""
        last = self._row("SELECT kind FROM batches ORDER BY n DESC LIMIT 1")
        return last is not None and last[0] == b"end"

    @property
    def head(self) -> str:
        """The hash of its last batch, in hexadecimal, as it stands in the file; :meth:`verify` reckons it."""
        last = self._row("SELECT hash FROM batches ORDER BY n DESC LIMIT 1")
        return _text(last[0]) if last is not None else ""

    @property
    def next_input(self) -> int:
        """The number that the next input will have: how many there are, unless some were lost."""
        last = self._row("SELECT first_input + inputs FROM batches ORDER BY n DESC LIMIT 1")
        return self._number(last[0]) if last is not None else 0

    @property
    def last_wall_s(self) -> float:
        """When its last batch was sealed, UTC seconds."""
        last = self._row("SELECT wall_ms FROM batches ORDER BY n DESC LIMIT 1")
        return self._number(last[0]) / 1_000 if last is not None else self.meta.started_wall_s

    def inputs(self, start_seq: int = 0) -> Iterator[tuple[int, Input]]:
        """(number, input) from ``start_seq`` on, in the order in which they were folded.

        ``RecordAltered`` at a batch that cannot be read. Of a live record: those that are there when it gets to the end.
        """
        n = self._batch_of(start_seq)
        while True:
            rows = self._rows(
                "SELECT n, first_input, data FROM batches WHERE n >= ? ORDER BY n LIMIT ?", (n, PAGE)
            )
            for n, first, data in rows:
                if not data:
                    continue
                try:
                    inputs = unpack_inputs(decompress(data))
                except (ValueError, TypeError) as error:  # msgspec's errors are ValueErrors
                    raise RecordAltered(f"{self.path}: batch {n} cannot be read: {error}") from error
                skipped = max(0, start_seq - self._number(first))
                yield from enumerate(inputs[skipped:], first + skipped)
            if len(rows) < PAGE:
                return
            n += 1

    def lines(self, start_seq: int = 0) -> Iterator[tuple[int, Line]]:
        """(number of the input that brought it, line) from input ``start_seq`` on, in order, without the periodic ones."""
        n = self._batch_of(start_seq)
        while True:
            rows = self._rows("SELECT n, data FROM lines WHERE n >= ? ORDER BY n LIMIT ?", (n, PAGE))
            for n, data in rows:
                try:
                    lines = unpack_lines(data)
                except (ValueError, TypeError) as error:
                    raise RecordAltered(
                        f"{self.path}: the lines of batch {n} cannot be read: {error}"
                    ) from error
                for seq, line in lines:
                    if seq >= start_seq:
                        yield seq, line
            if len(rows) < PAGE:
                return
            n += 1

    def seconds(self) -> Iterator[Second]:
        """Every second of the show as the desk drew it then, in order; none from a record that was written without them."""
        n = 0
        while True:
            rows = self._rows(
                "SELECT n, note FROM batches WHERE n > ? AND kind = 'data' AND note != '' ORDER BY n LIMIT ?",
                (n, PAGE),
            )
            for n, note in rows:
                try:
                    yield from unpack_seconds(note)
                except (ValueError, TypeError) as error:
                    raise RecordAltered(
                        f"{self.path}: the seconds of batch {n} cannot be read: {error}"
                    ) from error
            if len(rows) < PAGE:
                return

    def verify(self, head: str | None = None) -> Verdict:
        """Whether it is whole and unaltered, against ``head`` (as printed at the end of the show) if it is given."""
        return verify(self._connection, head)

    def ends_fit(self) -> bool:
        """Whether its first and its last batch are as they were written: a look, where :meth:`verify` takes seconds."""
        try:
            return ends_fit(self._connection)
        except (sqlite3.DatabaseError, UnicodeDecodeError):
            return False

    def length_s(self) -> float | None:
        """Desk seconds between its first and its last input; None if it has none. ``RecordAltered`` if they cannot be read."""
        last = self._row(
            "SELECT first_input + inputs - 1 FROM batches WHERE inputs > 0 ORDER BY n DESC LIMIT 1"
        )
        if last is None:
            return None
        first, final = next(self.inputs(), None), next(self.inputs(self._number(last[0])), None)
        return final[1].at_s - first[1].at_s if first is not None and final is not None else None

    def _batch_of(self, seq: int) -> int:
        """The batch that holds input ``seq`` (or the last before it), found by halving: the inputs' numbers only grow."""
        low = 0
        high = (self._row("SELECT max(n) FROM batches") or (0,))[0] or 0
        while low < high:
            middle = (low + high + 1) // 2
            row = self._row("SELECT first_input FROM batches WHERE n <= ? ORDER BY n DESC LIMIT 1", (middle,))
            if row is not None and self._number(row[0]) <= seq:
                low = middle
            else:
                high = middle - 1
        return low

    def _row(self, query: str, values: tuple[int, ...] = ()) -> tuple[Any, ...] | None:
        rows = self._rows(query, values)
        return rows[0] if rows else None

    def _rows(self, query: str, values: tuple[int, ...] = ()) -> list[tuple[Any, ...]]:
        try:
            return self._connection.execute(query, values).fetchall()
        except (sqlite3.Error, UnicodeDecodeError) as error:
            raise refusal(self.path, error) from error

    def _number(self, value: object) -> int:
        if not isinstance(value, int):
            raise RecordAltered(f"{self.path}: has words where its numbers were")
        return value


def _text(value: object) -> str:
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)
