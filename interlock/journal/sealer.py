"""Inputs and lines into chained batches: in memory, before any disk is asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import msgspec

from interlock.journal.schema import MOST_INPUTS, Batch, Kind, chain, compress, pack_inputs, pack_lines
from interlock.watch.inputs import Input
from interlock.watch.seconds import pack_seconds
from interlock.watch.state import Line


class Gap(msgspec.Struct, frozen=True):
    """Stands where ``count`` inputs had to be dropped."""

    count: int


Entry = tuple[Input | Gap, Sequence[Line]]


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

    def seal_all(self, entries: Sequence[Entry]) -> Iterator[Batch]:
        """``entries`` in order, as batches of at most ``MOST_INPUTS``.

        Of the once-a-second lines only what is drawn of them is kept, in the batch's note (``interlock.watch.seconds``).
        """
        inputs: list[Input] = []
        lines: list[tuple[int, Line]] = []
        seconds: list[Line] = []
        lost = 0
        for x, said in entries:
            if len(inputs) >= MOST_INPUTS or (type(x) is Gap and inputs):
                yield self.seal("data", inputs, lines, lost=lost, note=pack_seconds(seconds))
                inputs, lines, seconds, lost = [], [], [], 0
            if type(x) is Gap:
                lost += x.count
                continue
            if said:
                seq = self.next_input + lost + len(inputs)
                for line in said:
                    if getattr(line, "periodic", False):
                        seconds.append(line)
                    else:
                        lines.append((seq, line))
            inputs.append(x)  # type: ignore[arg-type]  # type(x) is Gap was dealt with above
        if inputs or lost:
            yield self.seal("data", inputs, lines, lost=lost, note=pack_seconds(seconds))
