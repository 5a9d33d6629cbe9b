"""A record through today's desk: the same version says the same to the last digit, another one a readable difference.

Events are compared one by one in their order; the once-a-second lines are not events and are not compared.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from difflib import SequenceMatcher
from pathlib import Path

import msgspec

from interlock.incident.recorded import refold, show_of
from interlock.journal import Record
from interlock.sentences import sentence, when
from interlock.signals import Contacts, Counts, Positions, Presence, Reading
from interlock.watch.state import ErrorLine, Line

MOST = 1_000
"""Differences that are kept; the others are counted."""
STRETCH = 400
"""Events that are matched against each other at a time, where the two desks do not say the same."""


class Difference(msgspec.Struct, frozen=True):
    """One event that only one of the two says, or that both say differently. ``seq``: number of the input."""

    seq: int
    text: str
    then: Line | None
    now: Line | None


class Replay(msgspec.Struct, frozen=True):
    """``lines``: today's events, each with the number of its input. ``more``: differences that were counted only."""

    lines: tuple[tuple[int, Line], ...]
    differences: tuple[Difference, ...]
    more: int
    inputs: int
    program: str

    @property
    def same(self) -> bool:
        """Every event is the same, to the last digit."""
        return not self.differences


def replay(record: Record) -> Replay:
    """Fold ``record`` anew with today's desk and compare. ``RecordAltered`` where it cannot be read."""
    show = show_of(record.meta)
    now: list[tuple[int, Line]] = []
    inputs = 0
    numbered = record.inputs()
    seqs: list[int] = []

    def values() -> Iterator[object]:
        for seq, x in numbered:
            seqs.append(seq)
            yield x

    for n, _, lines in refold(show, record.meta.rehearsal, values()):  # type: ignore[arg-type]
        inputs += 1
        now += [(seqs[n], line) for line in lines if not getattr(line, "periodic", False)]
    # The desk's own errors are said by the program around it, not by the fold.
    then: list[tuple[int, Line]] = [
        (seq, line) for seq, line in record.lines() if not isinstance(line, ErrorLine)
    ]
    found = list(_differences(then, now))
    return Replay(tuple(now), tuple(found[:MOST]), max(0, len(found) - MOST), inputs, record.meta.program)


def _differences(then: list[tuple[int, Line]], now: list[tuple[int, Line]]) -> Iterator[Difference]:
    i = j = 0
    while i < len(then) or j < len(now):
        if i < len(then) and j < len(now) and then[i] == now[j]:
            i, j = i + 1, j + 1
            continue
        # From here on they differ for a while: match what both say of the same thing.
        a, b = then[i : i + STRETCH], now[j : j + STRETCH]
        matcher = SequenceMatcher(None, [_what(x) for _, x in a], [_what(x) for _, x in b], autojunk=False)
        used_a, used_b = 0, 0
        for tag, a0, a1, b0, b1 in matcher.get_opcodes():
            last = a1 == len(a) and b1 == len(b) and tag != "equal"
            if last and (len(a) == STRETCH or len(b) == STRETCH) and used_a:
                break  # what is cut off at the end of a stretch may match in the next one
            if tag == "equal":
                for (seq, x), (_, y) in zip(a[a0:a1], b[b0:b1], strict=True):
                    if (words := _changed(x, y)) is not None:
                        yield Difference(seq, words, x, y)
            else:
                for seq, x in a[a0:a1]:
                    yield Difference(seq, f"only then: {when(x)} {sentence(x) or _what(x)}", x, None)
                for seq, y in b[b0:b1]:
                    yield Difference(seq, f"only now: {when(y)} {sentence(y) or _what(y)}", None, y)
            used_a, used_b = a1, b1
        i, j = i + used_a, j + used_b


def _what(line: Line) -> str:
    """What a line is of, whatever its figures: two lines of the same are compared key by key."""
    keys = ("house", "link", "code", "subject", "state", "phase", "cue", "adapter", "action")
    return " ".join([type(line).__name__, *(str(getattr(line, k)) for k in keys if hasattr(line, k))])


def _changed(then: Line, now: Line) -> str | None:
    """Which keys differ, in words; ``seq`` alone does not count: it moves with every line that is new."""
    if then == now:
        return None
    rows = [
        f"{name} {_short(a)} → {_short(b)}"
        for name in then.__struct_fields__
        if name not in ("seq", "group") and (a := getattr(then, name)) != (b := getattr(now, name))
    ]
    if not rows:
        return None
    return f"{when(then)} {_what(then)}: {'; '.join(rows)}"


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 300 else text[:299] + "…"


def readings_of(path: str | Path) -> Iterator[Reading]:
    """What the adapters said in the record at ``path``, in order: for ``drivers.replay``, which reads no records itself."""
    with Record.open(path) as record:
        for _, x in record.inputs():
            if isinstance(x, Contacts | Counts | Positions | Presence):
                yield x


def differences_in_words(replayed: Replay) -> Iterable[str]:
    """For people: one line a difference, or one that says there is none."""
    if replayed.same:
        yield f"the same {len(replayed.lines)} events to the last digit, from {replayed.inputs} inputs"
        return
    yield f"{len(replayed.differences) + replayed.more} differences from what version {replayed.program} said:"
    for d in replayed.differences:
        yield f"  {d.text}"
    if replayed.more:
        yield f"  and {replayed.more} more"
