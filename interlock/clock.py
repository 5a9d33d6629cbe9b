"""The only place that reads time.

Two times, never mixed: *desk seconds* (``now_s``) are monotonic and have no meaning but their
differences; *wall seconds* (``wall_s``) are UTC since the epoch and may step. Everything that waits
takes a :class:`Clock`, so a test moves the hands itself and never sleeps.
"""

from __future__ import annotations

import asyncio
import heapq
import itertools
import math
import time
from typing import Protocol


class Clock(Protocol):
    """Time as the program sees it."""

    def now_s(self) -> float:
        """Desk seconds: monotonic, arbitrary zero."""
        ...

    def wall_s(self) -> float:
        """UTC seconds since the epoch; may step."""
        ...

    async def sleep_until(self, at_s: float) -> None:
        """Return when ``now_s() >= at_s``; yields to the loop at least once."""
        ...


class SystemClock:
    """The computer's own clocks, ``CLOCK_MONOTONIC`` for desk seconds.

    ``offset_s`` is added to the monotonic reading, so that a record that is taken up again after a
    restart of the computer goes on in desk seconds that never go back.
    """

    def __init__(self, offset_s: float = 0.0) -> None:
        self.offset_s = offset_s

    def now_s(self) -> float:
        return time.monotonic() + self.offset_s

    def wall_s(self) -> float:
        return time.time()

    async def sleep_until(self, at_s: float) -> None:
        await asyncio.sleep(max(0.0, at_s - self.now_s()))


class VirtualClock:
    """A clock whose hands are moved by hand: for tests, and for a rehearsal that runs as fast as it goes.

    Whoever owns it calls :meth:`advance_to`; sleepers wake in the order of their times, and each
    sees exactly its own time as ``now_s``.
    """

    def __init__(self, now_s: float = 0.0, wall_s: float = 1_790_000_000.0) -> None:
        self._now_s = now_s
        self._wall_offset_s = wall_s - now_s
        self._sleepers: list[tuple[float, int, asyncio.Future[None]]] = []
        self._order = itertools.count()

    def now_s(self) -> float:
        return self._now_s

    def wall_s(self) -> float:
        return self._now_s + self._wall_offset_s

    def step_wall(self, by_s: float) -> None:
        """The wall clock steps, desk seconds do not."""
        self._wall_offset_s += by_s

    async def sleep_until(self, at_s: float) -> None:
        if at_s <= self._now_s:
            await asyncio.sleep(0)
            return
        woken: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        heapq.heappush(self._sleepers, (at_s, next(self._order), woken))
        await woken

    def next_sleeper_s(self) -> float | None:
        """When the earliest sleeper wants to wake; None with nobody asleep."""
        while self._sleepers and self._sleepers[0][2].done():
            heapq.heappop(self._sleepers)
        return self._sleepers[0][0] if self._sleepers else None

    async def advance_to(self, at_s: float) -> None:
        """Move the hands to ``at_s``, waking every sleeper on the way at its own time."""
        while (due_s := self.next_sleeper_s()) is not None and due_s <= at_s:
            _, _, woken = heapq.heappop(self._sleepers)
            self._now_s = max(self._now_s, due_s)
            woken.set_result(None)
            # Let the woken one run until it waits again: it may go to sleep for a time before at_s.
            for _ in range(3):
                await asyncio.sleep(0)
        self._now_s = max(self._now_s, at_s)


class PacedClock:
    """Real time, made faster or slower by a factor: what a rehearsal on the screen runs on.

    ``wall_start_s`` is the wall time shown at the start (a rehearsal begins shortly before the
    show's own ``motor_start``, whatever today's date).
    """

    def __init__(self, base: Clock, speed: float, wall_start_s: float) -> None:
        self._base = base
        self._speed = speed
        self._base_s = base.now_s()
        self._now_s = 0.0
        self._most_s = math.inf
        self._wall_start_s = wall_start_s

    @property
    def speed(self) -> float:
        """Seconds of show for one second of life."""
        return self._speed

    def step_wall(self, by_s: float) -> None:
        """The wall time shown steps, desk seconds do not."""
        self._wall_start_s += by_s

    def set_speed(self, speed: float) -> None:
        """From now on ``speed`` times as fast; the time shown does not jump."""
        self._now_s = self.now_s()
        self._base_s = self._base.now_s()
        self._speed = speed

    def keep_within(self, at_s: float) -> None:
        """Show no later time than ``at_s`` until told anew; time that was held back so is gone.

        Whoever plays the machines holds the clock so: on a computer that cannot keep up the show is slower, where
        otherwise its adapters would seem to have fallen silent.
        """
        self.set_speed(self._speed)
        self._most_s = at_s

    def now_s(self) -> float:
        return min(self._now_s + (self._base.now_s() - self._base_s) * self._speed, self._most_s)

    def wall_s(self) -> float:
        return self._wall_start_s + self.now_s()

    async def sleep_until(self, at_s: float) -> None:
        # In slices, because the speed may be changed while somebody sleeps.
        while (left_s := (at_s - self.now_s()) / self._speed) > 0:
            await self._base.sleep_until(self._base.now_s() + min(left_s, 0.1))
        await asyncio.sleep(0)
