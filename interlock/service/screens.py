"""Everything to every screen, without ever waiting for one.

Each screen has an outbox of its own: all lines in order, and the newest state, which overtakes the one
before it. A screen that is more than :data:`MOST_EVENTS` lines or :data:`MOST_BYTES` behind is cut off:
what waits for it is thrown away, it is told so if it ever reads again, and it catches up when it comes
back, for it then begins with the newest state.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Callable

from interlock.bus import Bus
from interlock.clock import Clock
from interlock.errors import ActionError
from interlock.service.folding import Folding
from interlock.service.sockets import LINE_BYTES
from interlock.watch.state import Farewell, Frame, Fresh, Happened, Hello, Layout, encode

log = logging.getLogger("longlace.screens")

MOST_EVENTS = 10_000
MOST_BYTES = 8 * 1024 * 1024
FRESH_S = 0.25
GOODBYE_S = 2.0
"""So long a screen has to take its farewell when the desk ends."""
CUT_OFF_S = 60.0
"""So long a screen that was cut off has to begin reading again and learn of it."""
_PIPE_BYTES = 65_536
"""What may wait in the transport: the rest waits in the outbox, where it is counted."""

Act = Callable[[bytes], None]
"""What is done with a line from a screen; raises :class:`ActionError` with the answer for that screen alone."""


class Screen:
    """One screen: its outbox, and the task that empties it."""

    def __init__(self, name: str, writer: asyncio.StreamWriter) -> None:
        self.name = name
        self.sent = 0
        self.overtaken = 0
        """States that were not sent because a newer one came."""
        self.cut_off = False
        self._writer = writer
        self._lines: deque[bytes] = deque()
        self._bytes = 0
        self._fresh: bytes | None = None
        self._last: bytes | None = None
        self._wake = asyncio.Event()
        self.ending = asyncio.Event()
        """It has been told farewell, or will be once it reads."""
        writer.transport.set_write_buffer_limits(high=_PIPE_BYTES)

    @property
    def behind(self) -> tuple[int, int]:
        """(lines, bytes) that wait."""
        return len(self._lines), self._bytes

    def line(self, frame: bytes) -> None:
        """One line more; cuts the screen off if it is too far behind."""
        if self._last is not None:
            return
        self._lines.append(frame)
        self._bytes += len(frame)
        if len(self._lines) > MOST_EVENTS or self._bytes > MOST_BYTES:
            reason = f"cut off: {len(self._lines):,} events ({self._bytes:,} bytes) behind; attach again to catch up"
            self.cut_off = True
            self._lines.clear()
            self._bytes = 0
            self._fresh = None
            self.farewell(reason)
        self._wake.set()

    def fresh(self, frame: bytes) -> None:
        """The newest state."""
        if self._last is not None:
            return
        self.overtaken += self._fresh is not None
        self._fresh = frame
        self._wake.set()

    def farewell(self, reason: str) -> None:
        """The last thing that it is told; nothing is taken after it."""
        if self._last is None:
            self._last = _frame(Farewell(reason))
            self._wake.set()
            self.ending.set()

    async def write(self) -> None:
        """Send until the farewell is sent. Raises ``OSError`` when the screen is gone."""
        while True:
            await self._wake.wait()
            self._wake.clear()
            while self._lines or self._fresh is not None:
                await self._some()
            if self._last is not None:
                self._writer.write(self._last)
                await self._writer.drain()
                return

    async def _some(self) -> None:
        part: list[bytes] = []
        size = 0
        while self._lines and size < _PIPE_BYTES:
            part.append(self._lines.popleft())
            size += len(part[-1])
        self._bytes -= size
        self.sent += len(part)
        if not self._lines and self._fresh is not None:  # a state never overtakes a line that is in it
            part.append(self._fresh)
            self._fresh = None
        self._writer.write(b"".join(part))
        await self._writer.drain()


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

    async def feed(self) -> None:
        """Hand lines to every screen until the bus is closed."""
        while await self._box.ready():
            lines = self._box.drain()
            for frame in [_frame(Happened(line)) for line in lines] if self.here else ():
                for screen in self.here:
                    screen.line(frame)
            if self._folding.alarmed:
                self._alarm.set()

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
                frame = _frame(Fresh(self._folding.state()))
                for screen in self.here:
                    screen.fresh(frame)

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """One screen, from its coming to its going."""
        self.served += 1
        screen = Screen(f"screen {self.served}", writer)
        # What waits in the feed's box is in this state already: it is handed out before the screen is counted in.
        self._hand_out()
        screen.line(_frame(Hello(self._layout, self._folding.state())))
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
        screen.line(_frame(Happened(self._folding.error(text))))

    def _hand_out(self) -> None:
        for line in self._box.drain():
            frame = _frame(Happened(line))
            for screen in self.here:
                screen.line(frame)

    async def _within(self, tasks: set[asyncio.Task[None]], time_s: float) -> None:
        pause = asyncio.ensure_future(self._clock.sleep_until(self._clock.now_s() + time_s))
        await asyncio.wait({*tasks, pause}, return_when=asyncio.FIRST_COMPLETED)
        pause.cancel()


def _frame(frame: Frame) -> bytes:
    return encode(frame) + b"\n"


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
