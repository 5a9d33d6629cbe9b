"""Mailboxes: what waits for one subscriber.

Two kinds. :class:`Lossless` keeps everything in order (a deque). :class:`Newest` keeps one value a
key (a dict): a newer one takes the place, and the turn, of the older that was not taken yet.

Why not ``asyncio.Queue``: its every put looks for a getter and its every get for a putter, because it
may be bounded. Here nobody ever waits to put, and one reader takes all that is there at once, so that
a put is two appends and a wake-up is needed only when the reader really sleeps.
"""

from __future__ import annotations

import asyncio
from abc import ABC, abstractmethod
from collections import deque
from collections.abc import AsyncIterator, Callable, Hashable, Sized
from contextlib import suppress
from types import TracebackType
from typing import Generic, Self, TypeVar

import msgspec

T = TypeVar("T")

FAIR = 256
"""One-by-one iteration lets the loop run after so many, so that a reader who catches up starves nobody."""


class MailboxStats(msgspec.Struct, frozen=True):
    """How a subscriber keeps up. ``passed``: everything put in; ``overtaken``: replaced before it was taken;
    ``behind_s``: age of the oldest that waits (for :class:`Newest`: since its key came in), 0 if none does."""

    name: str
    kind: str
    passed: int
    overtaken: int
    waiting: int
    most_waiting: int
    behind_s: float
    faults: int
    closed: bool


class Mailbox(ABC, Generic[T]):
    """What waits for one subscriber: one task reads it. Made by a channel; leaving its ``with`` unsubscribes."""

    kind = ""

    def __init__(self, name: str, now_s: Callable[[], float], on_leave: Callable[[Mailbox[T]], None]) -> None:
        self.name = name
        self.faults = 0
        """Items that this subscriber's own key function failed on; they were kept under a key of their own."""
        self._now_s = now_s
        self._on_leave = on_leave
        self._sleeper: asyncio.Future[None] | None = None
        self._closed = False
        self._most = 0
        self._streak = 0
        self._store: Sized = ()
        """What waits, as the kind keeps it; here only asked whether it is empty."""

    # The publisher's side ------------------------------------------------------------------------

    @abstractmethod
    def put(self, item: T, now_s: float) -> None:
        """Take ``item``, published at ``now_s``. Called by the channel, on the loop."""

    def close(self) -> None:
        """Nothing more comes in; what waits is still delivered, then the iteration ends."""
        self._closed = True
        self._wake()

    def leave(self) -> None:
        """Unsubscribe, and throw away what waits."""
        self._on_leave(self)
        self.close()
        self.drain()

    def _wake(self) -> None:
        sleeper, self._sleeper = self._sleeper, None
        if sleeper is not None and not sleeper.done():
            # RuntimeError: its loop is closed, so the reader is dead, which is no matter of the publisher's.
            with suppress(RuntimeError):
                sleeper.set_result(None)

    # The subscriber's side -----------------------------------------------------------------------

    async def ready(self) -> bool:
        """Wait until something waits (True), or until the box is closed and empty (False). Takes nothing."""
        while not self._store:
            if self._closed:
                return False
            if self._sleeper is not None and not self._sleeper.done():
                raise RuntimeError(f"mailbox {self.name} is already being read: one box, one reader")
            sleeper = self._sleeper = asyncio.get_running_loop().create_future()
            # Cancelled here, nothing is lost: the reader takes things only after it has woken.
            await sleeper
        return True

    @abstractmethod
    def drain(self) -> list[T]:
        """Everything that waits, in order; the empty list if nothing does. Never waits."""

    @abstractmethod
    def _take(self) -> T:
        """The first that waits."""

    def __aiter__(self) -> AsyncIterator[T]:
        return self

    async def __anext__(self) -> T:
        self._streak += 1
        if self._streak >= FAIR:
            self._streak = 0
            await asyncio.sleep(0)  # before anything is taken: cancelled here, nothing is lost either
        # Asked twice, because a call of ready() costs as much as all the rest and is rarely needed.
        if not self._store and not await self.ready():
            raise StopAsyncIteration
        return self._take()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.leave()

    # Figures -------------------------------------------------------------------------------------

    def __len__(self) -> int:
        return len(self._store)

    @abstractmethod
    def _counts(self) -> tuple[int, int, float | None]:
        """(passed, overtaken, when the oldest that waits was published)."""

    @property
    def closed(self) -> bool:
        """Nothing more comes in."""
        return self._closed

    def stats(self) -> MailboxStats:
        """How this subscriber keeps up, now."""
        passed, overtaken, oldest_s = self._counts()
        waiting = len(self)
        self._most = max(self._most, waiting)
        return MailboxStats(
            name=self.name,
            kind=self.kind,
            passed=passed,
            overtaken=overtaken,
            waiting=waiting,
            most_waiting=self._most,
            behind_s=0.0 if oldest_s is None else max(0.0, self._now_s() - oldest_s),
            faults=self.faults,
            closed=self._closed,
        )


class Lossless(Mailbox[T]):
    """Everything, in the order in which it was published."""

    kind = "lossless"

    def __init__(self, name: str, now_s: Callable[[], float], on_leave: Callable[[Mailbox[T]], None]) -> None:
        super().__init__(name, now_s, on_leave)
        self._store = self._items = deque[T]()
        self._stamps: deque[float] = deque()
        self._taken = 0

    def put(self, item: T, now_s: float) -> None:
        self._items.append(item)
        self._stamps.append(now_s)
        if self._sleeper is not None:
            self._wake()

    def drain(self) -> list[T]:
        items = list(self._items)
        count = len(items)
        # The most that ever waited is only looked at when something is taken: in between it can but grow.
        self._most = max(self._most, count)
        self._taken += count
        self._items.clear()
        self._stamps.clear()
        return items

    def _take(self) -> T:
        if (waiting := len(self._items)) > self._most:
            self._most = waiting
        self._taken += 1
        self._stamps.popleft()
        return self._items.popleft()

    def _counts(self) -> tuple[int, int, float | None]:
        return self._taken + len(self._items), 0, self._stamps[0] if self._stamps else None


class Newest(Mailbox[T]):
    """One value a key, the newest; drained in the order in which the keys came in."""

    kind = "newest"

    def __init__(
        self,
        name: str,
        now_s: Callable[[], float],
        on_leave: Callable[[Mailbox[T]], None],
        key: Callable[[T], Hashable],
    ) -> None:
        super().__init__(name, now_s, on_leave)
        self._key = key
        self._store = self._values = dict[Hashable, tuple[float, T]]()
        self._passed = 0
        self._overtaken = 0

    def put(self, item: T, now_s: float) -> None:
        self._passed += 1
        try:
            key = self._key(item)
            older = self._values.get(key)
        except Exception:  # noqa: BLE001 - the key function is the subscriber's; the publisher must not hear of it
            self.faults += 1
            key, older = object(), None  # kept all the same, under a key that nothing else has
        if older is None:
            self._values[key] = (now_s, item)
        else:
            self._overtaken += 1
            self._values[key] = (older[0], item)
        if self._sleeper is not None:
            self._wake()

    def drain(self) -> list[T]:
        self._most = max(self._most, len(self._values))
        items = [item for _, item in self._values.values()]
        self._values.clear()
        return items

    def _take(self) -> T:
        self._most = max(self._most, len(self._values))
        return self._values.pop(next(iter(self._values)))[1]

    def _counts(self) -> tuple[int, int, float | None]:
        oldest = next(iter(self._values.values()), None)
        return self._passed, self._overtaken, None if oldest is None else oldest[0]
