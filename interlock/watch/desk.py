"""The desk: a pure fold of inputs into lines.

No clock, no port, no chance: time comes in with the inputs. Desk time is the time of receipt and never
goes back. Before an input is folded, every deadline up to its time fires in order, dated by its own
due time, so that more ticks change no line, and a recorded show folded again gives the same lines to the last digit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from interlock.showfile.show import Show
from interlock.signals import Contacts, Counts, Positions, Presence
from interlock.watch.board import layout, snapshot
from interlock.watch.cues import follow_cues
from interlock.watch.inputs import Action, Anchor, Input, RecordHealth
from interlock.watch.judge_house import HORIZON_S, judge_house
from interlock.watch.judge_link import judge_link
from interlock.watch.judge_speed import judge_speeds
from interlock.watch.look import Look
from interlock.watch.operator import operate
from interlock.watch.phases import arm, follow, plan_arming
from interlock.watch.presence import adapter_due, next_look, presence, word
from interlock.watch.raising import alarm_due, judge
from interlock.watch.readings import fold_contacts, fold_counts, fold_positions
from interlock.watch.say import adapter_line, cue_line, house_line, link_line, show_line
from interlock.watch.state import CueLine, Line, State
from interlock.watch.world import (
    RANK_ADAPTER,
    RANK_ALARM,
    RANK_HOUSE,
    RANK_LINK,
    RANK_SECOND,
    RANK_SHOW,
    World,
)

__all__ = ["Desk", "layout"]

LATE_S = 2.0
"""A fact older than this when it is heard trips latching alarms only."""
ADAPTER_LINE_S = 10


class Desk:
    """Folds inputs into lines. Pure: no clock, no port, no chance; time comes in with the inputs.

    ``anchor`` ties desk seconds to the wall clock at the start. ``step`` returns the lines that the
    input (and every deadline up to its time) brought, in order. ``next_due_s`` is the desk second of the next
    deadline, so that a ``Tick`` can be sent for it and no sooner. ``state`` is a snapshot, free of effect.
    """

    def __init__(self, show: Show, anchor: Anchor, *, rehearsal: bool = False) -> None:
        self._w = w = World(show, anchor, rehearsal=rehearsal)
        self._phase = w.phase
        """In which everything was last looked at: another lets other alarms trip."""
        self._folds: dict[type[Input], Callable[[Any], None]] = {
            Counts: self._counts,
            Contacts: self._contacts,
            Positions: self._positions,
            Presence: self._presence,
            Action: self._action,
            Anchor: self._anchor,
            RecordHealth: self._record,
        }  # a Tick brings nothing but its time
        next_look(w)
        w.due(RANK_SECOND, 0, anchor.at_s)
        w.lines.append(show_line(w))
        plan_arming(w)

    def step(self, x: Input) -> list[Line]:
        """Fold one input. If it fails, what it had said until then is said with the next: an alarm is not lost by it."""
        w = self._w
        w.late = False
        at_s = x.at_s if x.at_s > w.t_s else w.t_s
        heap = w.heap
        while heap and heap[0][0] <= at_s and (due := w.pop_due(at_s)) is not None:
            due_s, rank, index = due
            w.t_s = max(due_s, w.t_s)
            self._fire(rank, index)
        w.t_s = at_s
        fold = self._folds.get(type(x))
        if fold is not None:
            fold(x)
        lines = w.lines
        w.lines = []
        return lines

    def next_due_s(self) -> float | None:
        """When something falls due by time alone; None if nothing does."""
        return self._w.next_due_s()

    def state(self) -> State:
        """The newest of everything, as of the last input."""
        return snapshot(self._w)

    def cues(self) -> tuple[tuple[CueLine, ...], ...]:
        """Every cue of each house, what is done included, in the order of ``house_cues``. Free of effect."""
        w = self._w
        return tuple(tuple(cue_line(w, h, n, snapshot=True) for n in range(len(h.cues))) for h in w.houses)

    # Readings

    def _heard(self, x: Contacts | Counts | Positions) -> bool:
        w = self._w
        index = w.adapter_index.get(x.adapter)
        if index is None:
            return False
        w.newest_s = x.at_s
        w.late = w.t_s - x.fact_s > LATE_S
        a = w.adapters[index]
        if a.phase == "up":
            a.word_s = w.t_s
        else:
            word(w, a)
        return True

    def _counts(self, x: Counts) -> None:
        if not self._heard(x):
            return
        w = self._w
        houses = fold_counts(w, x)
        if houses:
            self._round(houses, self._links_of(houses))
        elif w.near:
            # A count moves the moment at which a near threshold will be crossed.
            touched = {w.counters[name] for name, _, _ in x.values if name in w.counters}
            for i in sorted(w.near):
                if i in touched or i + 1 in touched:
                    judge_link(w, i)

    def _contacts(self, x: Contacts) -> None:
        if self._heard(x):
            houses, links = fold_contacts(self._w, x)
            if houses or links:
                self._round(houses, [*links, *self._links_of(houses)])

    def _positions(self, x: Positions) -> None:
        if self._heard(x):
            for i in fold_positions(self._w, x):
                if i in self._w.near:
                    judge_link(self._w, i)

    def _presence(self, x: Presence) -> None:
        w = self._w
        index = w.adapter_index.get(x.adapter)
        if index is None:
            return
        if x.state != "gone":
            w.newest_s = x.at_s
        houses = sorted(presence(w, w.adapters[index], x))
        if houses:
            self._round(houses, self._links_of(houses))

    def _action(self, x: Action) -> None:
        operate(self._w, x)
        if x.action not in ("note", "silence", "ack", "handover", "speed", "fault"):
            self._everything()

    def _anchor(self, x: Anchor) -> None:
        self._w.anchor = x
        plan_arming(self._w)

    def _record(self, x: RecordHealth) -> None:
        self._w.record_ok = x.ok
        judge(self._w, "record-failing", "desk", not x.ok, values={"reason": x.text})

    # Deadlines

    def _fire(self, rank: int, index: int) -> None:
        w = self._w
        if rank == RANK_SECOND:
            self._second()
        elif rank == RANK_LINK:
            judge_link(w, index)
        elif rank == RANK_HOUSE:
            self._round([index], self._links_of([index]))
        elif rank == RANK_ALARM:
            alarm_due(w, index)
        elif rank == RANK_ADAPTER:
            for a in w.adapters:
                if a.due_s <= w.t_s and (houses := adapter_due(w, a)):
                    self._round(houses, self._links_of(houses))
            next_look(w)
        elif rank == RANK_SHOW:
            if index == 0 and w.phase == "waiting":
                arm(w)
            self._everything()

    def _second(self) -> None:
        w = self._w
        w.beat += 1
        looks = [self._house(k) for k in range(len(w.houses))]
        for i, loop in enumerate(w.loops):
            # One that runs has set when to be looked at again: no later than it could reach a threshold.
            if loop.phase != "running" or w.houses[i].phase == "clear" or w.due_at(RANK_LINK, i) is None:
                judge_link(w, i)
        if follow(w):
            self._everything()
        drifts = [loop.drift(w.t_s) for loop in w.loops]
        if w.zero_s is not None:
            judge_speeds(w, drifts)
        for h, look in zip(w.houses, looks, strict=True):
            w.lines.append(house_line(w, h, look, periodic=True))
        for i, d in enumerate(drifts):
            w.lines.append(link_line(w, i, d, periodic=True))
        if w.beat % ADAPTER_LINE_S == 0:
            for a in w.adapters:
                w.lines.append(adapter_line(w, a, periodic=True))
        w.due(RANK_SECOND, 0, w.started_s + w.beat)

    # Rounds: causes come first, house then link.

    def _links_of(self, houses: Iterable[int]) -> list[int]:
        last = len(self._w.loops)
        return [i for k in houses for i in (k - 1, k) if 0 <= i < last]

    def _round(self, houses: Iterable[int], links: Iterable[int]) -> None:
        w = self._w
        for k in sorted(set(houses)):
            self._house(k)
        for i in sorted(set(links)):
            judge_link(w, i)
        if follow(w) or w.phase != self._phase:
            self._everything()

    def _house(self, k: int) -> Look:
        w = self._w
        h = w.houses[k]
        look = Look(w, h)
        judge_house(w, h, look)
        soonest_s = min(look.soonest_s, follow_cues(w, h, look.frame))
        w.due(RANK_HOUSE, k, soonest_s if soonest_s <= w.t_s + HORIZON_S else None)
        return look

    def _everything(self) -> None:
        w = self._w
        self._phase = w.phase
        for h in w.houses:
            self._house(h.index)
        for i in range(len(w.loops)):
            judge_link(w, i)
        if follow(w):
            self._everything()
