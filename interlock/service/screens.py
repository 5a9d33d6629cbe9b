"""Everything to every screen, without ever waiting for one.

All lines in order, and the newest state four times a second; what comes back are actions. What waits
for a screen, waits in its :mod:`~interlock.service.outbox`.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Callable, Iterable

from interlock.bus import Bus
from interlock.clock import Clock
from interlock.errors import ActionError
from interlock.service.folding import Folding
from interlock.service.outbox import Screen, frame_bytes
from interlock.service.sockets import LINE_BYTES
from interlock.watch.state import Fresh, Happened, Hello, Layout, Line

log = logging.getLogger("longlace.screens")

FRESH_S = 0.25
GOODBYE_S = 2.0
"""So long a screen has to take its farewell when the desk ends."""
CUT_OFF_S = 60.0
"""So long a screen that was cut off has to begin reading again and learn of it."""

PAST_LINES = 1_000
"""So much of what had happened a screen that comes later is given with its first word."""

Act = Callable[[bytes], None]
"""What is done with a line from a screen; raises :class:`ActionError` with the answer for that screen alone."""


class Screens:
    """All screens of one desk."""

    def __init__(self, folding: Folding, bus: Bus, layout: Layout, act: Act, clock: Clock) -> None:
        """``clock``: the life of the people who look, whatever the pace of the show."""
        self.cut_off = 0
        """Screens that were cut off so far."""
        self.served = 0
        self.here: list[Screen] = []
        self._folding = folding
        self._layout = layout
        self._act = act
        self._clock = clock
        self._box = bus.lines.lossless("screens")
        self._alarm = asyncio.Event()
        self._ending: str | None = None
        self._past: deque[Line] = deque(maxlen=PAST_LINES)

    async def feed(self) -> None:
        """Hand lines to every screen until the bus is closed."""
        while await self._box.ready():
            self._hand_out()
            if self._folding.alarmed:
                self._alarm.set()

    def none(self) -> None:
        """No screen can come to this desk: what they would be told is not kept for them (13 KB a second of sixteen houses)."""
        self._box.leave()

    async def refresh(self) -> None:
        """The newest state to every screen four times a second, and at once after an alarm; until cancelled."""
        while True:
            pause = asyncio.ensure_future(self._clock.sleep_until(self._clock.now_s() + FRESH_S))
            alarm = asyncio.ensure_future(self._alarm.wait())
            try:
                await asyncio.wait({pause, alarm}, return_when=asyncio.FIRST_COMPLETED)
            finally:
                pause.cancel()
                alarm.cancel()
            self._alarm.clear()
            self._folding.alarmed = False
            if self.here:
                frame = frame_bytes(Fresh(self._folding.state()))
                for screen in self.here:
                    screen.fresh(frame)

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """One screen, from its coming to its going."""
        self.served += 1
        screen = Screen(f"screen {self.served}", writer)
        # What waits in the feed's box is in this state already: it is handed out before the screen is counted in.
        self._hand_out()
        screen.line(frame_bytes(Hello(self._layout, self._folding.state(), tuple(self._past))))
        self.here.append(screen)
        if self._ending is not None:
            screen.farewell(self._ending)
        writing = asyncio.create_task(screen.write(), name=f"{screen.name} out")
        reading = asyncio.create_task(self._read(screen, reader), name=f"{screen.name} in")
        ending = asyncio.create_task(_until(screen.ending), name=f"{screen.name} end")
        try:
            await asyncio.wait({writing, reading, ending}, return_when=asyncio.FIRST_COMPLETED)
            self.cut_off += screen.cut_off
            if screen.ending.is_set():
                await self._within({writing}, CUT_OFF_S if screen.cut_off else GOODBYE_S)
        finally:
            self.here.remove(screen)
            await _gone({writing, reading, ending})
            writer.transport.abort() if screen.behind[0] else writer.close()
            if screen.cut_off:
                log.warning("%s was cut off: too far behind", screen.name)

    def end(self, reason: str) -> None:
        """Tell every screen that the desk ends."""
        self._ending = reason
        for screen in self.here:
            screen.farewell(reason)

    async def gone(self) -> None:
        """Wait until every screen has gone, as :meth:`end` has told them to."""
        while self.here:
            await self._clock.sleep_until(self._clock.now_s() + 0.02)

    async def _read(self, screen: Screen, reader: asyncio.StreamReader) -> None:
        while True:
            try:
                text = await reader.readuntil(b"\n")
            except asyncio.IncompleteReadError:
                return  # it is gone; half a line was no action
            except asyncio.LimitOverrunError as over:
                await _skip_line(reader, over.consumed)
                text = b""
                self._answer(
                    screen, f"the line is longer than {LINE_BYTES:,} bytes, expected one JSON object"
                )
            except OSError:
                return
            if text.strip():
                try:
                    self._act(text)
                except ActionError as error:
                    self._answer(screen, str(error))

    def _answer(self, screen: Screen, text: str) -> None:
        screen.line(frame_bytes(Happened(self._folding.error(text))))

    def _hand_out(self) -> None:
        lines = self._box.drain()
        # The once-a-second lines are not kept: they are in the state, and would soon be all that is kept.
        self._past.extend(line for line in lines if not getattr(line, "periodic", False))
        for frame in _frames(lines) if self.here else ():
            for screen in self.here:
                screen.line(frame)

    async def _within(self, tasks: set[asyncio.Task[None]], time_s: float) -> None:
        pause = asyncio.ensure_future(self._clock.sleep_until(self._clock.now_s() + time_s))
        await asyncio.wait({*tasks, pause}, return_when=asyncio.FIRST_COMPLETED)
        pause.cancel()


def _frames(lines: Iterable[Line]) -> list[bytes]:
    return [frame_bytes(Happened(line)) for line in lines]


async def _until(event: asyncio.Event) -> None:
    await event.wait()


async def _skip_line(reader: asyncio.StreamReader, consumed: int) -> None:
    """Read on to the end of a line that is too long, keeping nothing of it."""
    while True:
        await reader.readexactly(consumed)
        try:
            await reader.readuntil(b"\n")
        except asyncio.LimitOverrunError as over:
            consumed = over.consumed
        else:
            return


async def _gone(tasks: set[asyncio.Task[None]]) -> None:
    for task in tasks:
        task.cancel()
    for result in await asyncio.gather(*tasks, return_exceptions=True):
        if isinstance(result, Exception) and not isinstance(result, OSError | asyncio.IncompleteReadError):
            log.error("a screen's task failed", exc_info=result)
