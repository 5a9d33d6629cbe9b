"""Channels: where things are published."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import Generic, TypeVar

from interlock.bus.mailbox import Lossless, Mailbox, MailboxStats, Newest
from interlock.clock import Clock
from interlock.watch.inputs import Input
from interlock.watch.state import Line, State

T = TypeVar("T")


class Channel(Generic[T]):
    """One stream of things of one type, to any number of mailboxes, all of which see the same order."""

    def __init__(self, name: str, clock: Clock) -> None:
        self.name = name
        self.late = 0
        """Published after the channel was closed, and so delivered to nobody."""
        self._now_s = clock.now_s
        self._boxes: tuple[Mailbox[T], ...] = ()
        self._closed = False
        self._loop: asyncio.AbstractEventLoop | None = None
        self._from_threads: deque[tuple[T, float]] = deque()
        self._pump_due = False

    def lossless(self, name: str) -> Lossless[T]:
        """A mailbox that gets everything from now on, in order."""
        box: Lossless[T] = Lossless(name, self._now_s, self._drop)
        self._add(box)
        return box

    def newest(self, name: str, key: Callable[[T], Hashable]) -> Newest[T]:
        """A mailbox that keeps the newest of each ``key(item)``."""
        box: Newest[T] = Newest(name, self._now_s, self._drop, key)
        self._add(box)
        return box

    def publish(self, item: T) -> None:
        """Hand ``item`` to every mailbox. On the loop's own thread; never waits, never fails."""
        if self._closed:
            self.late += 1
            return
        if self._from_threads:
            self._pump()  # what a thread handed in before this came first
        now_s = self._now_s()
        for box in self._boxes:
            box.put(item, now_s)

    def publish_all(self, items: Sequence[T]) -> None:
        """The same for several in a row, which every mailbox gets in this order."""
        if self._closed or self._from_threads:
            for item in items:
                self.publish(item)
            return
        now_s = self._now_s()
        for box in self._boxes:
            put = box.put
            for item in items:
                put(item, now_s)

    def publish_from_thread(self, item: T) -> None:
        """The same from any other thread: ``item`` is delivered on the loop, in the order in which a thread hands in.

        Needs the loop to have been named by :meth:`attach` (``Bus.attach`` does it for all channels).
        One wake-up of the loop serves everything that came in until it runs. Once the channel or the
        loop is closed, what comes in is counted in :attr:`late`.
        """
        loop = self._loop
        if loop is None:
            raise RuntimeError(f"channel {self.name}: attach() it to the loop before threads publish")
        if self._closed:
            self.late += 1
            return
        self._from_threads.append((item, self._now_s()))
        # First append, then look; the pump first lowers the flag, then takes: so nothing can stay behind unseen.
        if not self._pump_due:
            self._pump_due = True
            try:
                loop.call_soon_threadsafe(self._pump)
            except RuntimeError:  # the loop is closed: nobody is left to hear it
                self._closed = True
                self.late += len(self._from_threads)
                self._from_threads.clear()

    def attach(self, loop: asyncio.AbstractEventLoop) -> None:
        """Name the loop on which threads' things are delivered."""
        self._loop = loop

    def close(self) -> None:
        """Deliver what threads have handed in, then close every mailbox: what waits there is still read."""
        self._pump()
        self._closed = True
        for box in self._boxes:
            box.close()

    def stats(self) -> list[MailboxStats]:
        """How every subscriber keeps up, in the order in which they subscribed."""
        return [box.stats() for box in self._boxes]

    def _pump(self) -> None:
        self._pump_due = False
        waiting = self._from_threads
        while waiting:
            item, at_s = waiting.popleft()
            if self._closed:
                self.late += 1
                continue
            for box in self._boxes:
                box.put(item, at_s)

    # Copied on change, so that a subscriber may come or go while something is being published.
    def _add(self, box: Mailbox[T]) -> None:
        if self._closed:
            box.close()
        self._boxes = (*self._boxes, box)

    def _drop(self, box: Mailbox[T]) -> None:
        self._boxes = tuple(b for b in self._boxes if b is not box)


class Bus:
    """The desk's channels.

    ``inputs``: everything that the desk folds: readings, operator actions, anchors, the record's health.
    ``lines``: what the desk says. ``state``: its newest state.
    """

    def __init__(self, clock: Clock) -> None:
        self.inputs: Channel[Input] = Channel("inputs", clock)
        self.lines: Channel[Line] = Channel("lines", clock)
        self.state: Channel[State] = Channel("state", clock)

    def attach(self, loop: asyncio.AbstractEventLoop) -> None:
        """Name the loop, so that :meth:`Channel.publish_from_thread` may be called."""
        self.inputs.attach(loop)
        self.lines.attach(loop)
        self.state.attach(loop)

    def close(self) -> None:
        """Close every channel, ``inputs`` first; what waits in the mailboxes is still read."""
        self.inputs.close()
        self.lines.close()
        self.state.close()

    def stats(self) -> dict[str, list[MailboxStats]]:
        """How every subscriber of every channel keeps up."""
        channels: Iterable[Channel[Input] | Channel[Line] | Channel[State]] = (
            self.inputs,
            self.lines,
            self.state,
        )
        return {channel.name: channel.stats() for channel in channels}
