"""An event loop whose time is virtual, and which wakes whoever may be woken in an order drawn from a seed.

When nothing is ready, time goes to the next timer or to the next thing that happens outside, at once. Nothing sleeps.
Handles that are ready together and belong to different tasks run in any order, as they would had the one or the other
come in a microsecond earlier; those of one task, or of one object, keep theirs. Now and then the loop is held up and
wakes too late. While a job in another thread is under way (the record's last batch), time stands.
"""

from __future__ import annotations

import asyncio
import heapq
import random
import selectors
from collections import deque
from collections.abc import Callable
from typing import Any, Protocol

HELD_UP = 0.01
"""How often a wake-up comes late: by a few milliseconds, and one in ten of them by up to half a second."""
BUSY = 0.05
"""How often time is seen to pass while callbacks run."""


class Outside(Protocol):
    """What happens by itself, in threads and devices: the loop is told of it when time comes to it."""

    def next_s(self) -> float | None:
        """When something happens next."""
        ...

    def until(self, now_s: float) -> None:
        """Everything up to then happens."""
        ...


class VirtualLoop(asyncio.SelectorEventLoop):
    """Time begins at 0."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.now_s = 0.0
        self.outside: Outside | None = None
        self.jobs = 0
        self.held_up = self.shuffled = 0
        self.failures: list[str] = []
        super().__init__(_Selector(self))
        self.set_exception_handler(self._failed)

    def time(self) -> float:
        return self.now_s

    def run_in_executor(self, executor: Any, func: Callable[..., Any], *args: Any) -> Any:
        self.jobs += 1
        future = super().run_in_executor(executor, func, *args)
        future.add_done_callback(self._job_done)
        return future

    def _job_done(self, _: object) -> None:
        self.jobs -= 1

    def _failed(self, _: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        self.failures.append(f"{context.get('message')}: {context.get('exception')!r}")

    def _process_events(self, event_list: Any) -> None:
        """Between waiting and running: what is due joins what is ready, and all of it is shuffled."""
        super()._process_events(event_list)  # type: ignore[misc]
        scheduled, ready = self._scheduled, self._ready  # type: ignore[attr-defined]
        while scheduled and scheduled[0].when() <= self.now_s:
            handle = heapq.heappop(scheduled)
            handle._scheduled = False
            ready.append(handle)
        if len(ready) > 1:
            self._shuffle(ready)

    def _shuffle(self, ready: deque[asyncio.Handle]) -> None:
        own: dict[int, deque[asyncio.Handle]] = {}
        turns: list[int] = []
        for handle in ready:
            owner = getattr(handle._callback, "__self__", None)  # type: ignore[attr-defined]
            key = id(handle) if owner is None or owner is self else id(owner)
            own.setdefault(key, deque()).append(handle)
            turns.append(key)
        if len(own) > 1:
            self.shuffled += 1
            # By place, not by key: keys are addresses, and differ from run to run.
            self.rng.shuffle(turns)
            ready.clear()
            ready.extend(own[key].popleft() for key in turns)

    def wait(self, timeout: float | None) -> None:
        """Time goes on, if it may."""
        if timeout is not None and timeout <= 0.0:
            if self.rng.random() < BUSY:
                self._goes_to(self.now_s + self.rng.random() * 0.002)
            return
        scheduled = self._scheduled  # type: ignore[attr-defined]
        times = [scheduled[0].when()] if scheduled else []
        if self.outside is not None and (next_s := self.outside.next_s()) is not None:
            times.append(next_s)
        if not times:
            raise RuntimeError("every task waits, and nothing is ever going to happen")
        to_s = max(self.now_s, min(times))
        if self.rng.random() < HELD_UP:
            self.held_up += 1
            to_s += self.rng.random() * (0.5 if self.rng.random() < 0.1 else 0.03)
        self._goes_to(to_s)

    def _goes_to(self, to_s: float) -> None:
        self.now_s = to_s
        if self.outside is not None:
            self.outside.until(to_s)


class _Selector(selectors.DefaultSelector):  # type: ignore[misc, valid-type]
    """The real one, asked without waiting: other threads wake the loop through it."""

    def __init__(self, loop: VirtualLoop) -> None:
        super().__init__()
        self._loop = loop

    def select(self, timeout: float | None = None) -> Any:
        if self._loop.jobs and (timeout is None or timeout > 0.0):
            return super().select(0.05)
        self._loop.wait(timeout)
        return super().select(0.0)


class LoopClock:
    """The loop's time as desk seconds; the wall clock can be set."""

    def __init__(self, loop: VirtualLoop, wall_s: float) -> None:
        self._loop = loop
        self.wall_offset_s = wall_s

    def now_s(self) -> float:
        return self._loop.now_s

    def wall_s(self) -> float:
        return self._loop.now_s + self.wall_offset_s

    async def sleep_until(self, at_s: float) -> None:
        await asyncio.sleep(max(0.0, at_s - self.now_s()))
