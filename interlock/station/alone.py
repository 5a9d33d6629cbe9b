"""Whether a desk listens; and, for a booth that is alone, its inputs and what is to be done, as lines for a person."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from interlock.clock import Clock
from interlock.station.board import row_words
from interlock.station.journal import Journal
from interlock.station.lone import Lone, Row
from interlock.station.stream import Stream

ALONE_S = 2.0
"""No question of the desk for so long: this booth is alone, and says so."""
WORDS_S = 5.0
SOON_S = 60.0
"""A cue is told so long before, and again when it is due."""
AHEAD_S = 600.0
MOST_ROWS = 8


class Alone:
    """:meth:`look` is called a few times a second. ``since_s``: when the last question came, if the booth is alone."""

    def __init__(
        self,
        streams: Mapping[str, Stream],
        lone: Lone,
        journal: Journal,
        clock: Clock,
        say: Callable[[str], None],
    ) -> None:
        self._streams, self._lone, self._journal, self._clock, self._say = streams, lone, journal, clock, say
        self._alone: bool | None = None
        self._began_s = self._words_s = clock.now_s()
        self.since_s: float | None = None
        self._told: set[tuple[str, str, float, str]] = set()

    def look(self) -> None:
        """Say what has changed."""
        now_s = self._clock.now_s()
        asked_s = max((s.asked_s for s in self._streams.values()), default=now_s)
        alone = now_s - asked_s >= ALONE_S
        if alone and self._alone is None and now_s - self._began_s < ALONE_S:
            return  # just begun: the desk has not had its time to ask
        self.since_s = max(asked_s, self._began_s) if alone else None
        if alone is not self._alone:
            self._alone = alone
            self._turned(alone)
        if not alone:
            return
        self._tell_cues()
        if now_s - self._words_s >= WORDS_S:
            self._words_s = now_s
            for words, kept in self.adapters():
                self._say(f"  {words}; readings kept: {kept}")

    def contacts(self) -> dict[str, bool]:
        """What this booth's contacts are now, those that are known."""
        return {k: v for s in self._streams.values() for k, v in s.contacts().items()}

    def frames(self) -> dict[str, float]:
        """The same of its counters."""
        return {k: v for s in self._streams.values() for k, v in s.frames().items()}

    def rows(self) -> list[Row]:
        """What is still to do in this booth, by time."""
        turned = {k: v for s in self._streams.values() for k, v in s.turned_s.items()}
        return self._lone.rows(self.contacts(), turned)

    def adapters(self) -> list[tuple[str, int]]:
        """Each adapter with its inputs in words, and how many of its readings wait for the desk."""
        return [
            (s.words(), self._journal.last(s.adapter) - self._journal.first(s.adapter) + 1)
            for s in self._streams.values()
        ]

    def _turned(self, alone: bool) -> None:
        if not alone:
            self._told.clear()
            self._say("a desk listens")
            return
        self._lone.save()
        self._say("ALONE: no desk asks; going on, and keeping what the adapters say")
        sheet = self._lone.sheet
        if sheet is None:
            self._say("  no desk has given this booth its cue sheet")
            return
        rows = [r for r in self.rows() if r.in_s <= AHEAD_S]
        then = self._lone.clock_text(-self._lone.age_s())
        self._say(f"  {sheet.title}, {sheet.phase} at {then}; to be done in the next ten minutes:")
        for row in rows[:MOST_ROWS]:
            self._told.add((row.house, row.do, row.plan_s, row.state))
            self._say(f"  {row_words(row, self._lone).strip()}")
        if not rows:
            self._say("  nothing")

    def _tell_cues(self) -> None:
        standing = self._lone.sheet is not None and self._lone.sheet.standing
        for row in self.rows():
            if row.in_s > SOON_S:
                break
            key = (row.house, row.do, row.plan_s, row.state)
            if key not in self._told and not standing:
                self._told.add(key)
                self._say(f"  {row_words(row, self._lone).strip()}")
