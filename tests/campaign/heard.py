"""What the desk was told in one run and what it said, sorted by plan time: the one half of what the oracle holds together."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import NamedTuple

from interlock.watch.state import AlarmLine, HouseLine, Line, ShowLine
from tests.campaign.beside import Beside
from tests.campaign.booths import WALL_S
from tests.campaign.drive import BEGIN_S
from tests.campaign.told import Words

NEAR_S = 0.005
"""Lines are dated to the millisecond."""

Span = tuple[float, float]
EVER: tuple[Span, ...] = ((-math.inf, math.inf),)
WATCHED = frozenset({"starting", "running", "running-out"})
"""Phases in which nearly every alarm may trip."""
LAMPS = WATCHED | {"stopped"}
"""Those of an alarm of a lamp."""


class Stretch(NamedTuple):
    """``value`` was known from ``from_s`` to ``to_s``; it was first told at ``since_s`` of ``fact_s``, silences aside."""

    from_s: float
    to_s: float
    value: bool
    since_s: float
    fact_s: float


class Spell(NamedTuple):
    """An alarm stood from ``from_s`` to ``to_s``. ``line``: the one by which it tripped; ``phase``: of the show then."""

    from_s: float
    to_s: float
    line: AlarmLine
    phase: str


def both(a: Sequence[Span], b: Sequence[Span]) -> list[Span]:
    """Where both hold; spans in order that do not overlap."""
    out: list[Span] = []
    i = j = 0
    while i < len(a) and j < len(b):
        from_s, to_s = max(a[i][0], b[j][0]), min(a[i][1], b[j][1])
        if from_s < to_s:
            out.append((from_s, to_s))
        if a[i][1] < b[j][1]:
            i += 1
        else:
            j += 1
    return out


class Heard:
    """Of one run. Everything is plan time."""

    def __init__(self, beside: Beside) -> None:
        self.beside = beside
        run = beside.run
        self.place: dict[str, tuple[str, int]] = {}
        """Contact → its adapter, and where it stands in that adapter's lines."""
        for a in run.show.adapters:
            for n, (_, signal) in enumerate(sorted(a.wiring.levels.items())):
                self.place[signal.removeprefix("!")] = (a.name, n)
        words = Words(run)
        self.told, self.silences, self.until_s = words.told, words.silences, words.until_s
        self._now_s = BEGIN_S
        self.lies = {f.signal for f in run.scenario.faults if f.kind in ("stuck-contact", "chatter")}
        self.late = {f.adapter for f in run.scenario.faults if f.kind in ("delayed", "jitter")}
        self.spells: dict[tuple[str, str], list[Spell]] = {}
        self.alarms: dict[tuple[str, str], list[tuple[float, AlarmLine]]] = {}
        self.houses: dict[str, list[tuple[float, HouseLine]]] = {h.id: [] for h in run.show.houses}
        """From show zero on."""
        self.phases: list[tuple[float, float, str]] = []
        self._read()
        self._series: dict[str, list[Stretch]] = {}

    def _read(self) -> None:
        phase, since_s = "waiting", -math.inf
        active: dict[tuple[str, str], tuple[float, AlarmLine, str]] = {}
        zero_s = self.beside.zero_plan_s
        for x in self.beside.run.lines:
            if type(x) is HouseLine:
                if x.show_s is not None and zero_s is not None:
                    self.houses[x.house].append((x.show_s + zero_s, x))
            elif isinstance(x, ShowLine):
                t_s = self.plan_s(x)
                self.phases.append((since_s, t_s, phase))
                phase, since_s = x.phase, t_s
            elif isinstance(x, AlarmLine):
                t_s, key = self.plan_s(x), (x.code, x.subject)
                self.alarms.setdefault(key, []).append((t_s, x))
                if x.active and key not in active:
                    active[key] = (t_s, x, phase)
                elif not x.active and key in active:
                    from_s, line, then = active.pop(key)
                    self.spells.setdefault(key, []).append(Spell(from_s, t_s, line, then))
        self.phases.append((since_s, math.inf, phase))
        for key, (from_s, line, then) in active.items():
            self.spells.setdefault(key, []).append(Spell(from_s, math.inf, line, then))

    def plan_s(self, x: Line) -> float:
        """When it was said. Where there is no show time, by the wall clock: lines come in order, so its steps are known."""
        if x.show_s is not None:
            t_s = self.beside.plan_s(x.show_s)
        else:
            t_s = datetime.fromisoformat(x.at).timestamp() - WALL_S
            for at_s, by_s in sorted(self.beside.run.scenario.clock_steps):
                if t_s >= at_s - NEAR_S or self._now_s >= at_s - NEAR_S:
                    t_s -= by_s
        self._now_s = max(self._now_s, t_s)
        return t_s

    # What was told.

    def series(self, signal: str) -> list[Stretch]:
        """The stretches in which a contact was known; none if it is not wired."""
        if signal not in self.place:
            return []
        if signal not in self._series:
            self._series[signal] = list(self._stretches(*self.place[signal]))
        return self._series[signal]

    def _stretches(self, adapter: str, n: int) -> Iterator[Stretch]:
        value: bool | None = None
        from_s = since_s = fact_s = -math.inf
        known = False
        for x in self.told[adapter]:
            now = None if x.values is None else x.values[n][1]
            if known and now is not value:
                assert value is not None
                yield Stretch(from_s, x.at_s, value, since_s, fact_s)
                known = False
            if now is None:
                continue
            if not known:
                from_s, known = x.at_s, True
            if now is not value:
                value, since_s, fact_s = now, x.at_s, x.fact_s
        if known and value is not None:
            yield Stretch(from_s, self.until_s, value, since_s, fact_s)

    def spans(self, signal: str, value: bool) -> list[Span]:
        """Where it was known to be that."""
        return [(x.from_s, x.to_s) for x in self.series(signal) if x.value is value]

    def at(self, signal: str, t_s: float, value: bool) -> Stretch | None:
        """The stretch in which it was known to be ``value`` at ``t_s``, the later of two; None if it was not."""
        for x in reversed(self.series(signal)):
            if x.value is value and x.from_s - NEAR_S <= t_s <= x.to_s + NEAR_S:
                return x
        return None

    def so(self, house: str, t_s: float, **contacts: bool) -> bool:
        """Whether these contacts were known to be so."""
        return all(self.at(f"{house}.{c}", t_s, v) is not None for c, v in contacts.items())

    def where(self, house: str, **contacts: bool) -> list[Span]:
        """Where all of these contacts were known to be so."""
        spans = list(EVER)
        for contact, value in contacts.items():
            spans = both(spans, self.spans(f"{house}.{contact}", value))
        return spans

    # What was said.

    def stands(self, code: str, subject: str, t_s: float) -> bool:
        """Whether that alarm stood then."""
        return any(x.from_s <= t_s <= x.to_s for x in self.spells.get((code, subject), ()))

    def urgency(self, code: str, subject: str, t_s: float) -> str:
        """The priority with which it was last said by then."""
        said = [x.priority for at_s, x in self.alarms.get((code, subject), ()) if at_s <= t_s]
        return said[-1] if said else ""

    def live(self, phases: frozenset[str]) -> list[Span]:
        """Where the show was in one of these phases."""
        return [(a, b) for a, b, phase in self.phases if phase in phases and a < b]

    def missed(
        self, code: str, subject: str, spans: Sequence[Span], phases: frozenset[str], hold_s: float = 0.0
    ) -> Iterator[str]:
        """Each span for which its condition surely held long enough, in a phase that lets it trip, and it did not stand."""
        live = self.live(phases)
        for a, b in spans:
            for from_s, to_s in both([(a, b)], live):
                due_s = max(a + hold_s, from_s) + self.soon_s(subject)
                for t_s in (due_s, to_s - 2.0 * NEAR_S):
                    if due_s <= t_s < to_s - NEAR_S and not self.stands(code, subject, t_s):
                        yield f"{code} on {subject} does not stand at plan {t_s:.3f} s; it has been so from {a:.3f} to {b:.3f} s"
                        return

    def lingers(self, code: str, subject: str, spans: Sequence[Span], off_s: float = 0.0) -> Iterator[str]:
        """Each span for which it surely was not so, in which it stood for longer than it takes to go off."""
        if (code, subject) not in self.spells:
            return
        for a, b in spans:
            t_s = a + off_s + self.soon_s(subject)
            if t_s < b - NEAR_S and self.stands(code, subject, t_s):
                yield f"{code} on {subject} still stands at plan {t_s:.3f} s; it has not been so from {a:.3f} s on"
                return

    def soon_s(self, house: str) -> float:
        """So soon after it was told it must be said. What is told too late trips with the next second only."""
        adapter, _ = self.place.get(f"{house}.run", (house, 0))
        return 1.2 if adapter in self.late else 0.1
