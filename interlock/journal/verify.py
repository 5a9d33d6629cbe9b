"""Is a record whole and unaltered? The chain, reckoned anew from the first batch.

An edit breaks the batch in which it was made; a batch that is missing breaks the numbers, or, renumbered,
the one after it; batches that changed places verify under each other's number. Who writes
the whole chain anew can only be told from the head that was printed at the end of the show.
"""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from datetime import UTC, datetime

import msgspec

from interlock.journal.misfits import Misfit, explained, named
from interlock.journal.packing import decompress, unpack_inputs, unpack_lines
from interlock.journal.rows import batches
from interlock.journal.schema import GENESIS, Batch, chain, meta_from_json


class Problem(msgspec.Struct, frozen=True):
    """What is wrong, in a sentence, and at which batch (−1: with the record as a whole)."""

    batch: int
    text: str


class Verdict(msgspec.Struct, frozen=True):
    """What was found. ``ok``: everything that is there is as it was written, and nothing between is missing.

    ``ended``: it has its end mark; without, it was cut off after ``last_good`` (or is still being written).
    ``last_good``: up to and with this batch all is well, −1 if nothing is. ``head``: hash of the last batch.
    """

    ok: bool
    ended: bool
    last_good: int
    batches: int
    inputs: int
    lines: int
    lost: int
    head: str
    problems: tuple[Problem, ...]
    last_good_wall_s: float | None
    """When the last good batch was sealed, UTC seconds."""

    @property
    def sentence(self) -> str:
        """All of it in a sentence or two, for a person."""
        what = f"{self.batches} batches with {self.inputs} inputs and {self.lines} lines"
        if self.ok and self.ended:
            return f"whole and unaltered: {what}, ended; head {self.head}"
        upto = f"batch {self.last_good}"
        if self.last_good_wall_s is not None:
            with suppress(ValueError, OverflowError, OSError):
                upto += f", {datetime.fromtimestamp(self.last_good_wall_s, UTC):%Y-%m-%d %H:%M:%S} UTC"
        if self.ok:
            return f"unaltered up to its last batch ({upto}), and cut off there, with no end mark: {what}; head {self.head}"
        told = " ".join(f"{p.text}." for p in self.problems[:5])
        more = f" And {len(self.problems) - 5} more." if len(self.problems) > 5 else ""
        good = f"good up to {upto}" if self.last_good >= 0 else "good nowhere"
        return f"NOT whole and unaltered: {told}{more} It is {good}"


def verify(connection: sqlite3.Connection, head: str | None = None) -> Verdict:
    """Check the record behind ``connection`` (whose texts come as bytes)."""
    return _Check(head).run(connection)


class _Check:
    def __init__(self, head: str | None) -> None:
        self.want = head.strip().lower() if head is not None else None
        self.problems: list[Problem] = []
        self.last: Batch | None = None
        self.good: Batch | None = None  # the last before the first problem
        self.want_at: int | None = None
        self.batches = self.inputs = self.lines = self.lost = 0
        self.misfits: list[Misfit] = []

    def run(self, connection: sqlite3.Connection) -> Verdict:
        connection.execute("BEGIN")  # one view of it, even while somebody writes
        try:
            for batch in batches(connection):
                self.step(batch)
            stray = connection.execute(
                "SELECT n FROM lines WHERE n NOT IN (SELECT n FROM batches WHERE line_count > 0) LIMIT 1"
            ).fetchone()
            if stray is not None:
                self.say(stray[0], f"lines were added to batch {stray[0]}, which had none")
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            at = self.last.n + 1 if self.last is not None else 0
            self.say(at, f"the file is damaged from batch {at} on ({error})")
        finally:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
        for n, text in explained(self.misfits):
            self.say(n, text)
        self.check_head()
        return self.verdict()

    def say(self, n: int, text: str) -> None:
        self.problems.append(Problem(n, text))

    def step(self, batch: Batch) -> None:
        """One batch, in the order of their numbers."""
        before, known = self.last, len(self.problems) + len(self.misfits)
        expected = before.n + 1 if before is not None else 0
        follows = batch.n == expected
        if batch.n > expected:
            gone = (
                f"batch {expected} is"
                if batch.n == expected + 1
                else f"batches {expected} to {batch.n - 1} are"
            )
            self.say(expected, f"{gone} missing")
        elif not follows:
            self.say(batch.n, f"a batch numbered {batch.n} was put before the first")
        if (batch.n == 0) != (batch.kind == "start") or (before is not None and before.kind == "end"):
            self.say(batch.n, f"batch {batch.n} stands where none of its kind can")
        if batch.lost:
            self.say(
                batch.n,
                f"{batch.lost} inputs before number {batch.first_input} were never written: memory was full",
            )
        try:
            packed = decompress(batch.data)
        except ValueError as error:
            self.say(batch.n, f"{named(batch)} is damaged: {error}")
        else:
            previous = before.hash if before is not None else GENESIS
            if follows and chain(previous, batch, packed) != batch.hash:
                self.misfits.append(Misfit(batch, packed, previous))
            else:
                self.read(batch, packed)
        self.batches += 1
        self.inputs += batch.inputs
        self.lines += batch.line_count
        self.lost += batch.lost
        self.last = batch
        if batch.hash == self.want:
            self.want_at = batch.n
        if known == 0 and not self.problems and not self.misfits:
            self.good = batch

    def read(self, batch: Batch, packed: bytes) -> None:
        """Bytes that are as they were written must also be understood."""
        try:
            inputs = len(unpack_inputs(packed)) if packed else 0
            lines = len(unpack_lines(batch.lines))
            if batch.kind == "start":
                meta_from_json(batch.note)
        except (ValueError, TypeError) as error:
            self.say(batch.n, f"{named(batch)} cannot be decoded: {error}")
            return
        if (inputs, lines) != (batch.inputs, batch.line_count):
            self.say(batch.n, f"{named(batch)} holds {inputs} inputs and {lines} lines instead")

    def check_head(self) -> None:
        last = self.last
        if last is None:
            self.say(0, "there is not one batch in it")
        elif self.want is not None and self.want != last.hash:
            if self.want_at is not None:
                self.say(
                    self.want_at + 1,
                    f"{last.n - self.want_at} batches were added after the head that was given",
                )
            else:
                self.say(
                    last.n + 1,
                    f"it does not reach the head that was given: it has been cut short after batch {last.n}, or "
                    "is another record, or has been written anew throughout",
                )

    def verdict(self) -> Verdict:
        self.problems.sort(key=lambda p: p.batch)
        good = self.good
        first_bad = min((p.batch for p in self.problems), default=None)
        last_good = good.n if good is not None else -1
        if first_bad is not None and first_bad <= last_good:
            last_good, good = first_bad - 1, None
        return Verdict(
            ok=not self.problems,
            ended=self.last is not None and self.last.kind == "end",
            last_good=last_good,
            batches=self.batches,
            inputs=self.inputs,
            lines=self.lines,
            lost=self.lost,
            head=self.last.hash if self.last is not None else GENESIS,
            problems=tuple(self.problems),
            last_good_wall_s=good.wall_ms / 1_000 if good is not None else None,
        )
