"""Waking at the desk's next deadline."""

from __future__ import annotations

import asyncio

from interlock.clock import Clock


class Alarm:
    """A clock's sleep that is kept as long as it is not too late: deadlines mostly move away, not nearer."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._at_s = float("inf")
        self._task: asyncio.Future[None] | None = None

    def at(self, due_s: float | None) -> list[asyncio.Future[None]]:
        """What to wait for, so as to wake at ``due_s`` or before."""
        if self._task is not None and (self._task.done() or due_s is None or due_s < self._at_s):
            self.cancel()
        if self._task is None and due_s is not None:
            self._at_s = due_s
            self._task = asyncio.ensure_future(self._clock.sleep_until(due_s))
        return [self._task] if self._task is not None else []

    def cancel(self) -> None:
        """Wait for nothing any more."""
        if self._task is not None:
            self._task.cancel()
            self._task = None
