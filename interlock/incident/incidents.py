"""From lines to incidents: what came first, what followed, and how long each step took.

An incident is a group of alarms (first-out and what it brought about), together with the groups that began
while it was still going on and within a few seconds of its last alarm: a torn splice and the stop after it
are one story, told by both their first-outs.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from interlock.incident.recorded import seconds_at
from interlock.incident.tripped import FILM_AT_RISK, RANK, Tripped, tripped
from interlock.watch.state import Line, OperatorLine, Priority, ShowLine

TOGETHER_S = 10.0
"""A group that begins within this of the last alarm of an incident that still stands belongs to its story."""
_PICTURE_LOST = frozenset({"lamp-out", "dowser-shut"})
_NO_ANSWER = ("speed", "fault")
"""Operator actions that are no answer to an alarm: they set a rehearsal up."""


_IN_S = ("raised", "person", "acknowledged", "gone", "stopped", "running")


class Answered(msgspec.Struct, frozen=True, rename={name: f"{name}_s" for name in _IN_S}):
    """How long an incident took, in seconds after its first condition became true; None: not in the record.

    ``raised``: the desk raised the first alarm. ``person``: the first operator action. ``acknowledged``: the first
    acknowledgement. ``gone``: every condition was over. ``stopped``: the show stood. ``running``: it ran again.
    In JSON each bears its unit: ``raised_s``.
    """

    raised: float
    person: float | None
    person_did: str | None
    acknowledged: float | None
    gone: float | None
    stopped: float | None
    running: float | None


class Incident(msgspec.Struct, frozen=True):
    """One story. ``alarms`` in the order in which they came; the first is the first-out."""

    number: int
    alarms: tuple[Tripped, ...]
    answered: Answered
    ended: bool
    """Every one of its conditions was over before the record ends."""

    @property
    def first(self) -> Tripped:
        """The first-out."""
        return self.alarms[0]

    @property
    def began_s(self) -> float:
        """When its first condition became true, UTC seconds."""
        return self.first.true_s

    @property
    def busy_until_s(self) -> float:
        """When its last alarm of the first rush came (no gap of more than ten seconds), UTC seconds."""
        last = self.began_s
        for a in self.alarms:
            if a.raised_s - last > TOGETHER_S:
                break
            last = a.raised_s
        return last

    @property
    def gravest_after_first(self) -> Tripped | None:
        """What came after the first-out and weighs more; None where nothing does."""
        worst = min((a for a in self.alarms[1:] if not a.suppressed), key=lambda a: a.weight, default=None)
        return worst if worst is not None and worst.weight < self.first.weight else None

    @property
    def last_s(self) -> float:
        """When its last alarm came, UTC seconds."""
        return max(a.raised_s for a in self.alarms)

    @property
    def priority(self) -> Priority:
        """Of its gravest alarm."""
        return min((a.priority for a in self.alarms), key=lambda p: RANK[p])

    @property
    def subjects(self) -> tuple[str, ...]:
        """Houses, links and adapters with an alarm in it, in order."""
        return tuple(dict.fromkeys(a.subject for a in self.alarms))


def gravity(s: Incident) -> tuple[int, int, float]:
    """Sorts the gravest first."""
    codes = {a.code for a in s.alarms}
    harm = 0 if codes & FILM_AT_RISK else 1 if codes & _PICTURE_LOST else 2
    return RANK[s.priority], harm, s.began_s


def gravest(stories: Sequence[Incident]) -> Incident | None:
    """The incident that the summary speaks of."""
    return min(stories, key=gravity, default=None)


def incidents(lines: Sequence[tuple[int, Line]]) -> list[Incident]:
    """The incidents of a record, in the order in which they began."""
    stories: list[list[Tripped]] = []
    of_group: dict[int, list[Tripped]] = {}
    for a in tripped(lines):
        story = of_group.get(a.group)
        if story is None and stories:
            last = stories[-1]
            near = a.raised_s - max(x.raised_s for x in last) <= TOGETHER_S
            standing = any(x.gone_s is None or x.gone_s >= a.raised_s for x in last)
            if near and standing:
                story = last
        if story is None:
            story = []
            stories.append(story)
        of_group[a.group] = story
        story.append(a)
    actions = [x for _, x in lines if isinstance(x, OperatorLine)]
    phases = [x for _, x in lines if isinstance(x, ShowLine)]
    found = []
    for n, story in enumerate(stories):
        until_s = stories[n + 1][0].raised_s if n + 1 < len(stories) else float("inf")
        found.append(_incident(n + 1, story, actions, phases, until_s))
    return found


def _incident(
    n: int, story: list[Tripped], actions: list[OperatorLine], phases: list[ShowLine], until_s: float
) -> Incident:
    began_s = story[0].true_s
    gone = [a.gone_s for a in story]
    gone_s = max((g for g in gone if g is not None), default=None) if None not in gone else None
    person = _first_answer(actions, story[0].raised_s, gone_s, until_s)
    acks = [a.acknowledged_s for a in story if a.acknowledged_s is not None]
    stopped_s, running_s = _stop(phases, began_s, max(a.raised_s for a in story))
    return Incident(
        number=n,
        alarms=tuple(story),
        ended=None not in gone,
        answered=Answered(
            raised=story[0].raised_s - began_s,
            person=None if person is None else seconds_at(person.at) - began_s,
            person_did=None if person is None else _did(person),
            acknowledged=min(acks) - began_s if acks else None,
            gone=None if gone_s is None else gone_s - began_s,
            stopped=None if stopped_s is None else stopped_s - began_s,
            running=None if running_s is None else running_s - began_s,
        ),
    )


def _did(x: OperatorLine) -> str:
    """``ack run-lost 3``; what was refused says so."""
    of = [str(x.keys[k]) for k in ("code", "subject", "house", "link") if x.keys.get(k) is not None]
    words = f"{x.action} {' '.join(of)}".strip()
    return words if x.refused is None else f"{words} (refused: {x.refused})"


def _first_answer(
    actions: list[OperatorLine], raised_s: float, gone_s: float | None, until_s: float
) -> OperatorLine | None:
    """The first thing that a person told the desk after the alarm, before the story was over or another began."""
    for x in actions:
        at_s = seconds_at(x.at)
        if at_s < raised_s or x.action in _NO_ANSWER:
            continue
        over_s = until_s if gone_s is None else max(gone_s, min(until_s, gone_s + 600.0))
        return x if at_s <= over_s else None
    return None


def _stop(phases: list[ShowLine], began_s: float, last_s: float) -> tuple[float | None, float | None]:
    """(when the show stopped in consequence, when it ran again), UTC seconds."""
    stopped_s: float | None = None
    for x in phases:
        at_s = seconds_at(x.at)
        if stopped_s is None:
            if x.phase == "stopped" and began_s <= at_s <= last_s + TOGETHER_S:
                stopped_s = at_s
        elif x.phase in ("running", "running-out"):
            return stopped_s, at_s
    return stopped_s, None
