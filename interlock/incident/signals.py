"""What the desk could not know: signals that are not wired, that fell silent, and adapters in trouble."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from interlock.incident.recorded import seconds_at
from interlock.sentences import when
from interlock.showfile.show import Show
from interlock.signals import HOUSE_CONTACTS
from interlock.watch.state import AdapterLine, HouseLine, Line


class Stretch(msgspec.Struct, frozen=True):
    """A time in which a signal, a position or a drift was not known. UTC seconds; ``to_s`` None: to the end."""

    subject: str
    what: str
    from_s: float
    to_s: float | None


def not_wired(show: Show) -> tuple[str, ...]:
    """What no adapter reports, in words, a row a house or link that lacks something."""
    wired = frozenset().union(*(a.wiring.signals() for a in show.adapters)) if show.adapters else frozenset()
    rows: list[str] = []
    for h in show.houses:
        lacks = [w for w in HOUSE_CONTACTS if f"{h.id}.{w}" not in wired]
        if f"{h.id}.frames" not in wired:
            lacks.append("frame counter")
        if lacks:
            rows.append(f"house {h.id}: {', '.join(lacks)}")
    loose = [k.id for k in show.links if not {f"{k.id}.{w}" for w in ("tight", "spill", "arm")} & wired]
    if loose:
        rows.append(
            f"limit switches or arm of {', '.join(loose)} (their drift is reckoned from the machines alone)"
        )
    return tuple(rows)


def unknown_signals(lines: Sequence[tuple[int, Line]], show: Show) -> list[Stretch]:
    """When wired contacts were not known; those of one house that went and came together are one stretch."""
    together: dict[tuple[str, float, float | None], list[str]] = {}
    for s in unknown_stretches(lines):
        together.setdefault((s.subject, s.from_s, s.to_s), []).append(s.what)
    return [Stretch(subject, ", ".join(what), a, b) for (subject, a, b), what in together.items()]


def adapter_trouble(lines: Iterable[tuple[int, Line]]) -> tuple[str, ...]:
    """Every time an adapter fell silent or began anew, and how long it took to come back."""
    since: dict[str, AdapterLine] = {}
    rows: list[str] = []
    for _, x in lines:
        if not isinstance(x, AdapterLine):
            continue
        if x.state == "restarted":
            rows.append(f"{when(x)}: {x.adapter} began anew (its counts begin at 0 again)")
        if x.state in ("stale", "lost"):
            since.setdefault(x.adapter, x)
        elif (first := since.pop(x.adapter, None)) is not None:
            gap_s = seconds_at(x.at) - seconds_at(first.at)
            rows.append(
                f"{when(first)}: {x.adapter} was silent and came back {gap_s:.1f} s after that was noticed "
                f"({x.bad_lines} bad and {x.lost_lines} lost lines since the desk started)"
            )
    rows += [
        f"{when(x)}: {name} fell silent and did not come back in this record" for name, x in since.items()
    ]
    return tuple(rows)


def unknown_stretches(lines: Iterable[tuple[int, Line]]) -> list[Stretch]:
    """When contacts of a house were not known, from the house lines; only after they had been known or the show had begun."""
    since: dict[tuple[str, str], float] = {}
    known: set[tuple[str, str]] = set()
    found: list[Stretch] = []
    for _, line in lines:
        if not isinstance(line, HouseLine):
            continue
        at_s = seconds_at(line.at)
        for what in ("run", "lamp", "dowser", "film"):
            key = (line.house, what)
            if getattr(line, what) is None:
                if key in known:
                    since.setdefault(key, at_s)
            else:
                known.add(key)
                if (from_s := since.pop(key, None)) is not None:
                    found.append(Stretch(f"house {line.house}", what, from_s, at_s))
    found += [Stretch(f"house {h}", what, from_s, None) for (h, what), from_s in since.items()]
    return sorted(found, key=lambda s: (s.from_s, s.subject))
