"""The one place that folds: inputs in, lines out, each with the record of both.

Everything that the desk takes in comes through one lossless mailbox, is folded in the order of its
time of receipt, and put to the journal in the order in which it was folded. Nothing here waits.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from operator import attrgetter
from typing import Protocol

from interlock.bus import Bus
from interlock.clock import Clock
from interlock.showfile.show import Show
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Input, Tick
from interlock.watch.state import AlarmLine, ErrorLine, Line, OperatorLine, State

log = logging.getLogger("longlace.desk")

ANCHOR_STEP_S = 0.05
"""A wall clock that steps by more than this against desk seconds gets a new anchor."""


class Journal(Protocol):
    """What the fold needs of the record."""

    def put(self, input: Input, lines: list[Line]) -> None:  # noqa: A002 - the journal's own name for it
        """Take both; never waits."""
        ...


Taken = Callable[[Action], None]
"""Told of each action that the desk did not refuse, before anybody else hears of it."""


class Folding:
    """A desk with its clock, its mailbox and its record."""

    def __init__(
        self,
        show: Show,
        clock: Clock,
        bus: Bus,
        *,
        rehearsal: bool = False,
        past: Iterable[Input] = (),
        journal: Journal | None = None,
        taken: Taken | None = None,
    ) -> None:
        """``past``: the inputs of a record that is taken up again; they are folded and say nothing.

        The first input of every record is the :class:`Anchor` with which its desk was made.
        """
        self.show = show
        self.clock = clock
        self.bus = bus
        self.rehearsal = rehearsal
        self._journal = journal
        self._taken = taken
        self.box = bus.inputs.lossless("desk")
        self.folded = 0
        self.faults = 0
        """Inputs on which the desk failed: faults of this program."""
        self._fault: Exception | None = None
        self.newest: Line | None = None
        """The last line that was said."""
        self.alarmed = False
        """An alarm line was said since somebody last looked; who looks lowers it."""
        self._at_s = float("-inf")
        self._wall_offset_s = 0.0
        self._desk: Desk | None = None
        for x in past:
            self._step(x)

    def start(self) -> None:
        """Tie desk seconds to the wall clock, and say the first line."""
        if self.faults:
            inputs = "1 input" if self.faults == 1 else f"{self.faults} inputs"
            self._say(
                f"the desk failed on {inputs} of its record and goes on; what it said of the rest stands"
            )
        self.fold(Anchor(max(self.clock.now_s(), self._at_s), self.clock.wall_s()))

    def anchor_if_stepped(self) -> None:
        """If the wall clock has stepped against desk seconds, its new time becomes an input."""
        now_s, wall_s = self.clock.now_s(), self.clock.wall_s()
        if abs(wall_s - now_s - self._wall_offset_s) > ANCHOR_STEP_S:
            self.bus.inputs.publish(Anchor(now_s, wall_s))

    def resume_s(self, wall_s: float) -> float:
        """The desk second with which a record that was taken up goes on: as much later as the wall clock is, and never back."""
        return max(self._at_s, wall_s - self._wall_offset_s)

    def fold(self, x: Input) -> list[Line]:
        """One input: into the desk, with its lines into the record, and its lines to everybody."""
        lines = self._step(x)
        if self._fault is not None:
            self._say(
                f"the desk failed on one input and goes on: {type(self._fault).__name__}: {self._fault}"
            )
        if self._journal is not None:
            self._journal.put(x, lines)
        if lines:
            self.bus.lines.publish_all(lines)
            self.alarmed = self.alarmed or AlarmLine in set(map(type, lines))
            if isinstance(x, Action) and self._taken is not None and not _refused(x, lines):
                self._taken(x)
        return lines

    def pump(self, *, ticks: bool = True) -> int:
        """Fold everything that waits, and then a tick if something is due; how many lines were said."""
        said = 0
        waiting = self.box.drain()
        if len(waiting) > 1:
            waiting.sort(key=attrgetter("at_s"))  # stable: two adapters' threads may hand in out of turn
        fold = self.fold
        for x in waiting:
            said += len(fold(x))
        now_s = self.clock.now_s()
        due_s = self.desk.next_due_s()
        if ticks and due_s is not None and due_s <= now_s:
            said += len(self.fold(Tick(now_s)))
        return said

    @property
    def desk(self) -> Desk:
        """The desk; there is one once :meth:`start` has been called (or a past was given)."""
        assert self._desk is not None
        return self._desk

    def state(self) -> State:
        """The newest of everything."""
        return self.desk.state()

    def error(self, text: str) -> ErrorLine:
        """The answer to what was not understood. It takes no number of the desk's: it carries that of the line before."""
        state = self.state()
        return ErrorLine(seq=max(0, state.seq), at=state.at, show_s=state.show_s, text=text)

    def _say(self, text: str) -> None:
        self._fault = None
        self.bus.lines.publish(self.error(text))

    def _step(self, x: Input) -> list[Line]:
        if self._desk is None:
            if not isinstance(x, Anchor):
                raise ValueError("the first input of a desk is an anchor")
            self._desk = Desk(self.show, x, rehearsal=self.rehearsal)
        if isinstance(x, Anchor):
            self._wall_offset_s = x.wall_s - x.at_s
        lines: list[Line] = []
        try:
            lines = self._desk.step(x)
        # This supervises: a fault of ours in judging one reading must not cost the booth the watch over all
        # the others, now or when its record is taken up again. It is said to every screen and kept in the log,
        # and the reading is in the record.
        except Exception as fault:
            log.error("the desk failed on %r", x, exc_info=fault)
            self.faults += 1
            self._fault = fault
        self.folded += 1
        self._at_s = max(self._at_s, x.at_s)
        if lines:
            self.newest = lines[-1]
        return lines


def _refused(x: Action, lines: list[Line]) -> bool:
    own = next((line for line in lines if isinstance(line, OperatorLine) and line.action == x.action), None)
    return own is not None and own.refused is not None
