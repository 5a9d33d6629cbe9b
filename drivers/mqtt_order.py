"""Numbered readings put back into their order, for as long as that is worth waiting for."""

from __future__ import annotations

import msgspec

from interlock.signals import Contacts, Reading

MOST_HELD = 2000
"""A gap of up to this many (a minute of a booth) is filled before what follows is told, so that the desk
sees what happened in a short cut in the order in which it did. After a longer one the present comes first."""
HOLD_S = 0.2
LONGEST_HOLD_S = 1.5
OLD_S = 1.0
"""What is older than this when it comes is of a time that is over."""


class Order:
    """``next_n``: the number to tell next; what is below it comes late."""

    def __init__(self, next_n: int) -> None:
        self.next_n = next_n
        self._held: dict[int, Reading] = {}
        self._since_s = 0.0
        self._missing = False

    def put(self, n: int, reading: Reading, now_s: float) -> tuple[bool, list[Reading]]:
        """Whether it came late; and what is to be told now, in order."""
        if n < self.next_n:
            return True, [reading]
        if n - self.next_n > MOST_HELD:
            told = self._all()
            self._pass_to(n)
            return False, [*told, self._marked(reading)]
        if not self._held or n == self.next_n:
            self._since_s = now_s
        self._held[n] = reading
        told = []
        while (found := self._held.pop(self.next_n, None)) is not None:
            told.append(self._marked(found))
            self.next_n += 1
        return False, told

    def due(self, now_s: float, trip_s: float = 0.0) -> list[Reading]:
        """What has been held for long enough: what is missing before it will come late.

        ``trip_s``: how long a question and its answer take now, for nothing that is missing can come sooner.
        """
        hold_s = min(LONGEST_HOLD_S, HOLD_S + 2.0 * trip_s)
        return self._all() if self._held and now_s - self._since_s >= hold_s else []

    def _all(self) -> list[Reading]:
        told: list[Reading] = []
        for n in sorted(self._held):
            self._pass_to(n)
            told.append(self._marked(self._held[n]))
        self._held.clear()
        return told

    def _pass_to(self, n: int) -> None:
        """Number ``n`` is told now, whatever is missing before it."""
        self._missing = self._missing or n != self.next_n
        self.next_n = n + 1

    def _marked(self, reading: Reading) -> Reading:
        """Contacts after a gap say so."""
        if not self._missing or not isinstance(reading, Contacts):
            return reading
        self._missing = False
        return msgspec.structs.replace(reading, missing=True)


class Backlog:
    """What is of a time that is over is told at once with what is of now.

    It comes in as many parts as the network makes of it; between two of them a motor that has long been turning again
    would stand, and be judged.
    """

    def __init__(self) -> None:
        self._kept: list[Reading] = []
        self._since_s = 0.0

    def add(self, readings: list[Reading], age_s: float, now_s: float) -> list[Reading]:
        """The next ones in order, the newest of them so old; what is to be told now."""
        if not self._kept:
            self._since_s = now_s
        self._kept += readings
        return [] if age_s > OLD_S and len(self._kept) <= MOST_HELD else self._all()

    def due(self, now_s: float) -> list[Reading]:
        """What has waited for long enough for something of now."""
        return self._all() if self._kept and now_s - self._since_s >= LONGEST_HOLD_S else []

    def _all(self) -> list[Reading]:
        kept, self._kept = self._kept, []
        return kept
