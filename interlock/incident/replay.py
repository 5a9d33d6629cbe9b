"""A record through today's desk: the same version says the same to the last digit, another one a readable difference.

``longlace replay`` is made of it.

Events are compared one by one in their order; the once-a-second lines are not events and are not compared.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
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
    """``lines``: today's events, each with the number of its input. ``more``: differences that were counted only.

    ``program``: the version that made the record, ``now``: this one. ``cut``: the record has no end mark.
    """

    lines: tuple[tuple[int, Line], ...]
    differences: tuple[Difference, ...]
    more: int
    inputs: int
    program: str
    now: str
    cut: bool

    @property
    def same(self) -> bool:
        """Every event is the same, to the last digit."""
        return not self.differences


def replay(record: Record, now: str = "today's") -> Replay:
    """Fold ``record`` anew with today's desk (of version ``now``) and compare. ``RecordAltered`` where it cannot be read."""
    show = show_of(record.meta)
    today: list[tuple[int, Line]] = []
    inputs = 0
    numbered = record.inputs()
    seqs: list[int] = []

    def values() -> Iterator[object]:
        for seq, x in numbered:
            seqs.append(seq)
            yield x

    for n, _, lines in refold(show, record.meta.rehearsal, values()):  # type: ignore[arg-type]
        inputs += 1
        today += [(seqs[n], line) for line in lines if not getattr(line, "periodic", False)]
    # The desk's own errors are said by the program around it, not by the fold.
    then: list[tuple[int, Line]] = [
        (seq, line) for seq, line in record.lines() if not isinstance(line, ErrorLine)
    ]
    found = list(_differences(then, today))
    return Replay(
        lines=tuple(today),
        differences=tuple(found[:MOST]),
        more=max(0, len(found) - MOST),
        inputs=inputs,
        program=record.meta.program,
        now=now,
        cut=not record.ended,
    )


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
    kind = str(line.__struct_config__.tag)
    return " ".join([kind, *(str(getattr(line, k)) for k in keys if hasattr(line, k))])


def _changed(then: Line, now: Line) -> str | None:
    """Which keys differ, in words; ``seq`` alone does not count: it moves with every line that is new."""
    if then == now:
        return None
    rows = [
        f"{name} {_short(a)} → {_short(b)}"
        for name, a, b in _unlike(msgspec.to_builtins(then), msgspec.to_builtins(now))
        if name not in ("seq", "group")
    ]
    return f"{when(then)} {_what(then)}: {'; '.join(rows)}" if rows else None


def _unlike(
    then: dict[str, object], now: dict[str, object], of: str = ""
) -> Iterator[tuple[str, object, object]]:
    """(key, then, now) of every figure that differs, those within ``values`` and ``keys`` one by one."""
    for name in dict.fromkeys([*then, *now]):
        a, b = then.get(name), now.get(name)
        if isinstance(a, dict) and isinstance(b, dict):
            yield from _unlike(a, b, f"{of}{name}.")
        elif a != b:
            yield f"{of}{name}", a, b


def _short(value: object) -> str:
    text = "nothing" if value is None else value if isinstance(value, str) else repr(value)
    return text if len(text) <= 300 else text[:299] + "…"


def readings_of(path: str | Path) -> Iterator[Reading]:
    """What the adapters said in the record at ``path``, in order: for ``drivers.replay``, which reads no records itself."""
    with Record.open(path) as record:
        for _, x in record.inputs():
            if isinstance(x, Contacts | Counts | Positions | Presence):
                yield x


def differences_in_words(replayed: Replay, most: int = MOST) -> Iterator[str]:
    """For people: one line a difference, or one that says there is none."""
    upto = "; the record has no end mark, so it goes as far as that" if replayed.cut else ""
    if replayed.same:
        yield f"the same {len(replayed.lines)} events to the last digit, from {replayed.inputs} inputs{upto}"
        return
    total = len(replayed.differences) + replayed.more
    yield (
        f"{total} differences from what version {replayed.program} said (this is {replayed.now}), in {len(replayed.lines)} "
        f"events from {replayed.inputs} inputs{upto}:"
    )
    yield from _summed_up(replayed.differences)
    for d in replayed.differences[:most]:
        yield f"  {d.text}"
    if total > most:
        yield f"  and {total - most} more"


def _summed_up(differences: Sequence[Difference]) -> Iterator[str]:
    """How many of which sort and of what, the most frequent first: a thousand lines say less."""
    counts: Counter[tuple[str, str]] = Counter()
    for d in differences:
        line = d.then if d.then is not None else d.now
        how = "with other figures" if d.then is not None and d.now is not None else d.text.split(":")[0]
        code = getattr(line, "code", "")
        counts[how, f"{line.__struct_config__.tag if line is not None else ''} {code}".strip()] += 1
    for (how, what), n in counts.most_common():
        yield f"  {how}: {n} × {what}"


def as_json(replayed: Replay) -> str:
    """One JSON document: ``same``, ``inputs``, ``events``, ``then_program``, ``now_program``, ``cut``, ``differences`` (each
    with the number of its ``input``, its ``text`` and the line ``then`` and ``now``, null where it was not said) and ``more``."""
    return msgspec.json.encode(
        {
            "same": replayed.same,
            "inputs": replayed.inputs,
            "events": len(replayed.lines),
            "then_program": replayed.program,
            "now_program": replayed.now,
            "cut": replayed.cut,
            "differences": [
                {"input": d.seq, "text": d.text, "then": d.then, "now": d.now} for d in replayed.differences
            ],
            "more": replayed.more,
        }
    ).decode()
