"""Inputs and lines into chained batches: in memory, before any disk is asked."""

from __future__ import annotations

import json
import platform
from collections.abc import Callable, Iterator, Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import TypeAlias

import msgspec

from interlock.journal.packing import compress, pack_inputs, pack_lines
from interlock.journal.schema import MOST_INPUTS, Batch, Kind, chain
from interlock.watch.inputs import Input
from interlock.watch.seconds import pack_seconds
from interlock.watch.state import Line


class Gap(msgspec.Struct, frozen=True):
    """Stands where ``count`` inputs had to be dropped."""

    count: int


Folded: TypeAlias = Input | tuple[Input, Sequence[Line]]
"""An input, with the lines that it brought if it brought any. Most bring none and stand for themselves: a tuple a
reading costs a third of the writer's speed, nearly all of it in the garbage collector (benchmarks/journal_write.py)."""
Entry: TypeAlias = Folded | Gap


class Sealer:
    """The chain's growing end. ``n`` and ``next_input``: numbers of the next batch and input; ``head``: the last hash."""

    def __init__(self, wall_s: Callable[[], float], n: int, head: str, next_input: int) -> None:
        self.n = n
        self.head = head
        self.next_input = next_input
        self._wall_s = wall_s

    def seal(
        self,
        kind: Kind,
        inputs: Sequence[Input] = (),
        lines: Sequence[tuple[int, Line]] = (),
        *,
        lost: int = 0,
        note: str = "",
    ) -> Batch:
        """The next batch of the chain. Its inputs' numbers go on after ``lost`` ones that nobody will see."""
        packed = pack_inputs(inputs) if inputs else b""
        batch = Batch(
            n=self.n,
            kind=kind,
            wall_ms=int(self._wall_s() * 1_000),
            first_input=self.next_input + lost,
            inputs=len(inputs),
            line_count=len(lines),
            lost=lost,
            hash="",
            note=note,
            data=compress(packed),
            lines=pack_lines(lines),
        )
        batch = msgspec.structs.replace(batch, hash=chain(self.head, batch, packed))
        self.n += 1
        self.head = batch.hash
        self.next_input = batch.next_input
        return batch

    def resumed(self) -> Batch:
        """The batch that says that a desk, perhaps another version, has taken the record up again."""
        try:
            program = version("longlace")
        except PackageNotFoundError:
            program = "unknown"
        return self.seal(
            "resumed", note=json.dumps({"program": program, "python": platform.python_version()})
        )

    def seal_all(self, entries: Sequence[Entry]) -> Iterator[Batch]:
        """``entries`` in order, as batches of at most ``MOST_INPUTS``.

        Of the once-a-second lines only what is drawn of them is kept, in the batch's note (``interlock.watch.seconds``).
        """
        lost = 0
        for some, gap in _between_gaps(entries):
            for n in range(0, len(some), MOST_INPUTS):
                yield self._seal_some(some[n : n + MOST_INPUTS], lost)
                lost = 0
            lost += gap
        if lost:
            yield self.seal("data", lost=lost)

    def _seal_some(self, some: Sequence[Folded], lost: int) -> Batch:
        if tuple not in set(map(type, some)):  # no line in all of them
            return self.seal("data", some, lost=lost)  # type: ignore[arg-type]
        inputs: list[Input] = []
        lines: list[tuple[int, Line]] = []
        seconds: list[Line] = []
        for seq, entry in enumerate(some, self.next_input + lost):
            if not isinstance(entry, tuple):
                inputs.append(entry)
                continue
            inputs.append(entry[0])
            for line in entry[1]:
                if getattr(line, "periodic", False):
                    seconds.append(line)
                else:
                    lines.append((seq, line))
        return self.seal("data", inputs, lines, lost=lost, note=pack_seconds(seconds))


def _between_gaps(entries: Sequence[Entry]) -> Iterator[tuple[Sequence[Folded], int]]:
    """Runs of entries without a gap, each with the count of the gap after it (0 after the last)."""
    first = 0
    if Gap in set(map(type, entries)):
        for n, entry in enumerate(entries):
            if isinstance(entry, Gap):
                yield entries[first:n], entry.count  # type: ignore[misc]
                first = n + 1
    yield entries[first:], 0  # type: ignore[misc]
