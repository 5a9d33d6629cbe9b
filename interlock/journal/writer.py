"""Writing a record: one thread, one connection, a commit every 100 ms.

The desk hands over inputs with a plain call; the thread seals what has come in into a batch
(:mod:`interlock.journal.sealer`) and commits it (:mod:`interlock.journal.backlog`). When the disk fails it
goes on sealing, keeps the batches, tries again with growing pauses, and writes them in order when it can:
the chain never has a hole.

Memory is bounded all the same, at about 512 MiB: sealed batches up to ``MOST_SEALED_BYTES`` (more than two
days of sixteen houses), then inputs up to ``MOST_WAITING``. Beyond that the oldest are kept, newer ones
are dropped and counted, and the count stands in the record where they are missing.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from pathlib import Path

from interlock.clock import Clock, SystemClock
from interlock.errors import RecordError
from interlock.journal.backlog import Backlog
from interlock.journal.files import in_words, refuse_any
from interlock.journal.going_on import open_end
from interlock.journal.schema import GENESIS, RecordMeta, meta_to_json
from interlock.journal.sealer import Entry, Gap, Sealer
from interlock.journal.stats import JournalStats
from interlock.watch.inputs import Input
from interlock.watch.state import Line

INTERVAL_S = 0.1
MOST_SEALED_BYTES = 256 << 20
MOST_WAITING = 250_000
"""Inputs not yet sealed, about 1 KiB each: reached only where the disk hangs, or the sealed ones are at their bound."""
LONGEST_PAUSE = 50
"""Intervals between two attempts on a failing disk at most: 5 s."""

OnHealth = Callable[[bool, str], None]


class JournalWriter:
    """A record being written. Made by :meth:`create` or :meth:`resume`."""

    def __init__(self, sealer: Sealer, backlog: Backlog, on_health: OnHealth, clock: Clock) -> None:
        self.path = backlog.path
        self._sealer = sealer
        self._backlog = backlog
        self._on_health = on_health
        self._clock = clock
        self._waiting: deque[Entry] = deque()
        self._put = self._dropped = self._noted = 0
        self._committed_s: float | None = None
        self._failing, self._text = False, ""
        self._pause = self._pauses = 0
        self._asked = self._heard = self._tried = self._answered = 0  # flushes
        self._close_tries = 1
        self._closing = self._closed = self._one_file = False
        self._wake = threading.Condition()
        self._thread = threading.Thread(target=self._run, name="record", daemon=True)
        self._thread.start()

    @classmethod
    def create(
        cls, path: str | Path, meta: RecordMeta, *, on_health: OnHealth, clock: Clock | None = None
    ) -> JournalWriter:
        """Begin a record; folders are made. ``RecordExists`` if anything stands at ``path``.

        A disk that cannot take it is no error here: the show goes on, ``on_health(False, why)`` is called, and the
        record is begun when it can be. ``on_health(ok, text)`` comes from the writer's own thread, at
        changes only. ``clock`` dates batches (inputs bring their own time).
        """
        clock = clock or SystemClock()
        path = Path(path)
        refuse_any(path)
        sealer = Sealer(clock.wall_s, n=0, head=GENESIS, next_input=0)
        backlog = Backlog(path)
        backlog.push(sealer.seal("start", note=meta_to_json(meta)))
        return cls(sealer, backlog, on_health, clock)

    @classmethod
    def resume(
        cls, path: str | Path, show_source: str, *, on_health: OnHealth, clock: Clock | None = None
    ) -> JournalWriter:
        """Go on with an unended record of the same show file, to the letter.

        ``NotARecord``: it is none. ``RecordExists``: it is ended, of another show, or being written by another
        program. ``RecordAltered``: its chain is broken. None of them touches the file.
        """
        clock = clock or SystemClock()
        path = Path(path)
        end = open_end(path, show_source)
        sealer = Sealer(clock.wall_s, n=end.batches, head=end.head, next_input=end.next_input)
        backlog = Backlog(path, end.head)
        backlog.push(sealer.resumed())
        return cls(sealer, backlog, on_health, clock)

    def put(self, input: Input, lines: Sequence[Line]) -> None:  # noqa: A002 - the name that others call it by
        """Record one input and the lines that it brought. One thread calls it; it never waits and never fails."""
        if self._closing or len(self._waiting) >= MOST_WAITING:
            self._dropped += 1
            return
        if self._dropped > self._noted:
            self._waiting.append(Gap(self._dropped - self._noted))
            self._noted = self._dropped
        self._put += 1
        self._waiting.append((input, tuple(lines)) if lines else input)

    def flush(self, timeout_s: float = 5.0) -> bool:
        """Wait until everything put before is on disk (True), or the disk has not taken it in that time (False)."""
        with self._wake:
            if self._closed:
                return not self._backlog
            self._asked += 1
            mine = self._asked
            self._wake.notify_all()
            self._wake.wait_for(lambda: self._answered >= mine or self._closed, timeout_s)
            return self._answered >= mine

    def stats(self) -> JournalStats:
        """How the record keeps up, now; any thread may ask."""
        backlog = self._backlog
        committed_s = self._committed_s
        return JournalStats(
            rows_written=backlog.inputs,
            rows_waiting=self._put - backlog.inputs,
            lines_written=backlog.lines,
            batches_written=backlog.batches,
            lost=self._dropped,
            last_commit_age_s=None if committed_s is None else max(0.0, self._clock.now_s() - committed_s),
            failing=self._failing,
            text=self._text,
            head=backlog.head,
            one_file=self._one_file,
        )

    def close(self, timeout_s: float = 5.0) -> str:
        """Write what waits and the end mark, leave one file, and return the head in hexadecimal.

        ``RecordError`` if the disk did not take everything within ``timeout_s``; what it had taken stays. May be
        called again: it returns, or raises, the same.
        """
        with self._wake:
            self._closing = True
            self._close_tries = max(1, round(timeout_s / INTERVAL_S))
            self._wake.notify_all()
        self._thread.join(timeout_s + 2.0)
        if self._thread.is_alive():
            raise RecordError(f"{self.path}: the disk does not answer; {self._left()} are not on it")
        if self._backlog:
            raise RecordError(f"{self.path}: {self._text}; {self._left()} are not on the disk")
        return self._backlog.head

    def _left(self) -> str:
        return f"the last {self._put - self._backlog.inputs} inputs and the end mark"

    # The writer's thread -------------------------------------------------------------------------

    def _run(self) -> None:
        self._cycle()  # begin the file at once, not only when something has come in
        while not self._closing:
            with self._wake:
                if not self._closing and self._asked == self._heard:
                    self._wake.wait(INTERVAL_S)
                self._heard = self._asked
            self._cycle()
        self._end()
        with self._wake:
            self._closed = True
            self._wake.notify_all()

    def _cycle(self) -> None:
        heard = self._heard
        all_sealed = self._seal_waiting()
        if heard == self._tried and self._pause > 0:  # a flush is tried at once, and once
            self._pause -= 1
            return
        self._tried = heard
        if self._written() and (all_sealed or (self._seal_waiting() and self._written())):
            with self._wake:
                self._answered = heard
                self._wake.notify_all()

    def _end(self) -> None:
        self._seal_waiting(everything=True)
        dropped, self._noted = self._dropped - self._noted, self._dropped
        self._backlog.push(self._sealer.seal("end", lost=dropped))
        for _ in range(self._close_tries):
            if self._written():
                self._one_file = self._backlog.finish(1.0)
                return
            with self._wake:
                self._wake.wait(INTERVAL_S)
        self._backlog.abandon()

    def _seal_waiting(self, everything: bool = False) -> bool:
        """Seal what has come in, unless too much is sealed already; True if it was done."""
        if not everything and self._backlog.bytes > MOST_SEALED_BYTES:
            return False
        waiting = self._waiting
        for batch in self._sealer.seal_all([waiting.popleft() for _ in range(len(waiting))]):
            self._backlog.push(batch)
        return True

    def _written(self) -> bool:
        """Try to write everything that is sealed; tell a change of health."""
        if not self._backlog:
            return True
        try:
            self._backlog.write()
        except Exception as error:  # noqa: BLE001 - supervises: whatever goes wrong here, the show goes on and hears of it
            self._pauses = min(max(1, self._pauses * 2), LONGEST_PAUSE)
            self._pause = self._pauses
            self._tell(False, in_words(error))
            return False
        self._committed_s = self._clock.now_s()
        self._pause = self._pauses = 0
        self._tell(True, "")
        return True

    def _tell(self, ok: bool, text: str) -> None:
        changed = self._failing == ok
        self._failing = not ok
        self._text = text
        if not changed:
            return
        if ok:
            lost = f"; {self._dropped} inputs were lost, because memory was full too" if self._dropped else ""
            text = f"{self.path}: everything that waited is on the disk{lost}"
        else:
            text = f"{self.path}: {text}"
        try:
            self._on_health(ok, text)
        except Exception:  # noqa: BLE001 - the listener's trouble (a loop that is closed) must not end the record
            return
