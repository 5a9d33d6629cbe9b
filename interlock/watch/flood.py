"""Alarm floods: more than a person can work through, marked while they last, and lists folded so that they stay readable.

[P] A flood starts above 10 new alarms in 10 min and ends below 5 in 10 min (ISA-18.2-2016 §16.4 as quoted in public
documentation). The one place for that rule: the desk marks by it, the report counts by it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

import msgspec

from interlock.watch.lines import AlarmLine

WINDOW_S = 600.0
FLOOD_STARTS_ABOVE = 10
FLOOD_ENDS_BELOW = 5


class Span(msgspec.Struct, frozen=True):
    """A flood: from the first alarm of those that made it one, to where it ends if no more come; ``alarms`` within it."""

    start_s: float
    end_s: float
    alarms: int


class FloodWatch:
    """Follows what comes. Asking changes nothing, so that it never matters how often, or when, somebody looks."""

    __slots__ = ("_active", "_count", "_start_s", "_window")

    def __init__(self) -> None:
        self._active: dict[tuple[str, str], None] = {}
        self._window: deque[float] = deque()
        self._start_s: float | None = None
        self._count = 0

    def copy(self) -> FloodWatch:
        """As it is now."""
        twin = FloodWatch()
        twin._active, twin._window = dict(self._active), deque(self._window)
        twin._start_s, twin._count = self._start_s, self._count
        return twin

    def heard(self, t_s: float, line: AlarmLine) -> Span | None:
        """A transition of an alarm at ``t_s``, never earlier than before: new if it asks for a person and was not active.

        Returns the flood that had ended before it, if it is the first to come since.
        """
        key = (line.code, line.subject)
        if not line.active:
            self._active.pop(key, None)
            return None
        if key in self._active:
            return None
        self._active[key] = None
        return self.came(t_s) if line.state == "unacknowledged" else None

    def came(self, t_s: float) -> Span | None:
        """A new alarm at ``t_s``. Returns as :meth:`heard`."""
        ended = self.last if self._start_s is not None and self.standing(t_s) is None else None
        if ended is not None:
            self._start_s = None
        window = self._window
        while window and window[0] + WINDOW_S <= t_s:
            window.popleft()
        window.append(t_s)
        if self._start_s is not None:
            self._count += 1
        elif len(window) > FLOOD_STARTS_ABOVE:
            self._start_s, self._count = window[0], len(window)
        return ended

    @property
    def last(self) -> Span | None:
        """The flood that stands, or has ended with nothing new since; None without one."""
        if self._start_s is None:
            return None
        # It ends when only four of the newest are left, which is when the fifth newest is ten minutes old.
        return Span(self._start_s, self._window[-FLOOD_ENDS_BELOW] + WINDOW_S, self._count)

    def standing(self, t_s: float) -> Span | None:
        """The flood that stands at ``t_s`` (not before the newest alarm), if any."""
        last = self.last
        return last if last is not None and t_s < last.end_s else None

    def recent(self, t_s: float) -> int:
        """How many came in the ten minutes before ``t_s``."""
        return sum(1 for s in self._window if s + WINDOW_S > t_s)


class Fold(msgspec.Struct, frozen=True):
    """Alarms that are told as one line. ``head``: the one that is read; ``rest``: the others, in their order.

    ``by``: ``group`` (one cause, by its first-out), ``code`` (the same on several subjects), or None: it stands alone.
    """

    head: AlarmLine
    rest: tuple[AlarmLine, ...] = ()
    by: str | None = None

    @property
    def count(self) -> int:
        """How many alarms it is."""
        return 1 + len(self.rest)

    @property
    def members(self) -> tuple[AlarmLine, ...]:
        """All of them, the head first."""
        return (self.head, *self.rest)


_URGENCY = {"high": 0, "medium": 1, "low": 2}
_ASIDE = frozenset({"shelved", "suppressed", "out-of-service"})


def fold_alarms(alarms: Iterable[AlarmLine]) -> tuple[Fold, ...]:
    """A list of alarms (worst first, as in ``State.alarms``) with one line a first-out group and then one a code.

    Nothing is lost: every alarm is in exactly one fold. A fold stands where its first member stood. The head is
    the group's first-out alarm, unless another is more urgent: what is folded away never outranks what is read.
    What was put aside (shelved, suppressed) never folds together with what was not.
    """
    given = list(alarms)
    groups: dict[tuple[object, ...], list[AlarmLine]] = {}
    for a in given:
        if a.group is not None:
            groups.setdefault((a.state in _ASIDE, a.group), []).append(a)
    folded: dict[tuple[object, ...], list[AlarmLine]] = {}
    for a in given:
        aside = a.state in _ASIDE
        in_group = a.group is not None and len(groups[aside, a.group]) > 1
        key = (aside, "group", a.group) if in_group else (aside, "code", a.code)
        folded.setdefault(key, []).append(a)
    return tuple(_fold(str(key[1]), members) for key, members in folded.items())


def _fold(by: str, members: list[AlarmLine]) -> Fold:
    if len(members) == 1:
        return Fold(members[0])
    head = min(members, key=lambda a: (_URGENCY[a.priority], not a.first_out))  # the first of equals
    return Fold(head, tuple(a for a in members if a is not head), by)
