"""Whose turn it is on a Modbus line. Pure: times in, decisions out.

Modules that answer are asked every ``poll_s``. One that does not is asked again with pauses that grow,
and at most one such attempt is made between two rounds of the others: it costs them one timeout, no
more, however many modules are dead.
"""

from __future__ import annotations

from collections.abc import Iterable

from drivers.modbus_reads import Module, Read

TOLERATED = 1
"""Answers in a row that may be missing before a module is put off: one is lost on any long line now and then."""
FIRST_PAUSE_S = 0.25
LONGEST_PAUSE_S = 5.0
MISSING_S = 0.75
REFUSED_PAUSE_S = 5.0


class Polled:
    """One module and how it does. ``trouble``: why it does not answer, empty while it does."""

    def __init__(self, module: Module, now_s: float) -> None:
        self.module = module
        self.due_s = now_s
        self.trouble = ""
        self.refused: dict[Read, tuple[float, str]] = {}
        self.good: set[Read] = set()
        self._asked_since_s = now_s
        self._failures = 0
        self._pause_s = FIRST_PAUSE_S

    @property
    def put_off(self) -> bool:
        """Whether it is asked only now and then."""
        return self._failures > TOLERATED

    def reads(self, now_s: float) -> list[Read]:
        """What to ask it now."""
        return [r for r in self.module.reads if r not in self.refused or self.refused[r][0] <= now_s]

    def answered(self, now_s: float, poll_s: float) -> bool:
        """All that was asked has been answered (or refused). True if it was missing until now."""
        back, self.trouble = bool(self.trouble), ""
        self._failures, self._pause_s = 0, FIRST_PAUSE_S
        self._asked_since_s = now_s
        self.due_s = max(self.due_s + poll_s, now_s)
        return back

    def failed(self, now_s: float, poll_s: float, why: str) -> bool:
        """It did not answer. True if from now on it must be taken for missing."""
        self._failures += 1
        if self.put_off:
            self.due_s = now_s + self._pause_s
            self._pause_s = min(2 * self._pause_s, LONGEST_PAUSE_S)
        else:
            self.due_s = now_s + poll_s
        if self.trouble or now_s - self._asked_since_s < MISSING_S:
            return False
        self.trouble = why
        self.good.clear()
        return True

    def refuses(self, read: Read, now_s: float, why: str) -> bool:
        """It answers, but not this. True if it once did."""
        self.refused[read] = (now_s + REFUSED_PAUSE_S, why)
        if read in self.good:
            self.good.discard(read)
            return True
        return False

    def gives(self, read: Read) -> None:
        """It answered this."""
        self.refused.pop(read, None)
        self.good.add(read)

    def connected(self, now_s: float) -> None:
        """The line is new: it is asked at once."""
        self.due_s = now_s
        if not self.trouble:
            self._asked_since_s = now_s
            self._failures, self._pause_s = 0, FIRST_PAUSE_S

    def complaint(self) -> str:
        """What is wrong with it, in words; empty if nothing is."""
        if self.trouble:
            return f"{self.module.name} {self.trouble}"
        return "; ".join(
            f"{self.module.name} refuses {read.words} ({why})"
            for read, (_, why) in sorted(self.refused.items(), key=lambda item: (item[0].table, item[0].at))
        )


class Turns:
    """Gives each module its turn."""

    def __init__(self, polled: Iterable[Polled]) -> None:
        self._all = list(polled)
        self._since_put_off = 0

    def next(self) -> Polled:
        """Who is to be asked next, at its ``due_s`` or at once if that is over."""
        well = [p for p in self._all if not p.put_off]
        put_off = [p for p in self._all if p.put_off]
        first = min(well, key=lambda p: p.due_s, default=None)
        late = min(put_off, key=lambda p: p.due_s, default=None)
        if late is not None and (
            first is None or (self._since_put_off >= len(well) and late.due_s <= first.due_s)
        ):
            self._since_put_off = 0
            return late
        assert first is not None
        self._since_put_off += 1
        return first
