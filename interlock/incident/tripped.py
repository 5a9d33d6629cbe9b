"""One alarm's time: from its coming to its going, out of the lines that the desk said of it."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from interlock.incident.recorded import seconds_at
from interlock.watch.catalogue import CATALOGUE
from interlock.watch.state import AlarmLine, Line, Priority

RANK: dict[Priority, int] = {"high": 0, "medium": 1, "low": 2}

FILM_AT_RISK = frozenset({"slack-lost", "run-lost", "film-out", "gate-heat", "deck-stopped", "start-late"})


class Tripped(msgspec.Struct, frozen=True):
    """One alarm's time from its coming to its going. ``_s`` are UTC seconds; None: it did not happen in the record.

    ``true_s``: when its condition became true (earlier than ``raised_s`` where the word of it came late).
    ``gone_s``: when its condition was over. ``suppressed``: a graver alarm said it already.
    """

    code: str
    subject: str
    priority: Priority
    first_out: bool
    group: int
    text: str
    values: dict[str, float | str | bool | None]
    true_s: float
    raised_s: float
    raised_show_s: float | None
    acknowledged_s: float | None = None
    gone_s: float | None = None
    suppressed: bool = False
    seq: int = 0
    """Number of the input that brought it."""

    @property
    def name(self) -> str:
        """``run-lost on 3``."""
        return f"{self.code} on {self.subject}"

    @property
    def weight(self) -> tuple[int, int]:
        """Sorts the gravest first: by its priority, and of those of one priority what puts film at risk."""
        return RANK[self.priority], 0 if self.code in FILM_AT_RISK else 1


def tripped(lines: Iterable[tuple[int, Line]]) -> list[Tripped]:
    """Every alarm of the record, from its coming to its going, in the order of their coming."""
    found: list[Tripped] = []
    open_at: dict[tuple[str, str], int] = {}
    for seq, line in lines:
        if not isinstance(line, AlarmLine):
            continue
        key = (line.code, line.subject)
        at_s = seconds_at(line.at)
        i = open_at.get(key)
        if line.active and (i is None or found[i].gone_s is not None):
            if line.state in ("acknowledged", "normal"):
                continue  # the record begins in the middle of it
            open_at[key] = len(found)
            found.append(_new(seq, line, at_s))
            continue
        if i is None:
            continue
        a = found[i]
        changed: dict[str, object] = {}
        if RANK[line.priority] < RANK[a.priority]:
            changed["priority"] = line.priority
        if a.acknowledged_s is None and line.state in ("acknowledged", "latched-acknowledged"):
            changed["acknowledged_s"] = at_s
        if a.gone_s is None and not line.active:
            # It is said to be gone when it has been so for its delay: that is not how long it was so.
            changed["gone_s"] = max(a.raised_s, at_s - CATALOGUE[a.code].off_delay_s)
        elif (
            a.acknowledged_s is None and a.gone_s is not None and line.state == "normal" and not a.suppressed
        ):
            changed["acknowledged_s"] = at_s
        if line.state == "suppressed":
            changed["suppressed"] = True
        if changed:
            found[i] = msgspec.structs.replace(a, **changed)
    return found


def _new(seq: int, line: AlarmLine, at_s: float) -> Tripped:
    crossed = line.values.get("crossed_s")
    true_s = at_s
    if isinstance(crossed, float | int) and line.show_s is not None and not isinstance(crossed, bool):
        true_s = min(at_s, at_s - (line.show_s - crossed))
    return Tripped(
        code=line.code,
        subject=line.subject,
        priority=line.priority,
        first_out=line.first_out,
        group=line.group if line.group is not None else line.seq,
        text=line.text,
        values=line.values,
        true_s=true_s,
        raised_s=at_s,
        raised_show_s=line.show_s,
        suppressed=line.state == "suppressed",
        seq=seq,
    )
