"""A screen's end of the socket: the frames of a desk, and what a person does on the way back."""

from __future__ import annotations

import asyncio
import os
from collections import deque
from collections.abc import AsyncGenerator, AsyncIterator
from contextlib import aclosing, suppress

import msgspec

from interlock.clock import Clock, SystemClock
from interlock.errors import NoDesk
from interlock.service import sockets
from interlock.service.place import Place
from interlock.text import as_argument
from interlock.watch.state import ErrorLine, Farewell, Frame, Happened, Hello, State, decode_frame

FIRST_PAUSE_S = 0.25
LONGEST_PAUSE_S = 5.0


class DeskConnection:
    """A desk as a screen sees it (:class:`tui.source.Source`); comes back by itself when the connection breaks."""

    def __init__(self, place: Place, clock: Clock | None = None) -> None:
        self.place = place
        self._clock = clock if clock is not None else SystemClock()
        self._writer: asyncio.StreamWriter | None = None
        self._state: State | None = None
        self.farewell: str | None = None
        """What the desk said when it went, or sent this screen away."""
        self._own: deque[Frame] = deque()
        self._own_word = asyncio.Event()

    async def frames(self) -> AsyncIterator[Frame]:
        """A ``Hello`` first, and again after each reconnection; ends when the desk has ended."""
        pause_s = FIRST_PAUSE_S
        told, said = False, ""
        while True:
            last: Frame | None = None
            try:
                async with aclosing(self._connected()) as frames:
                    async for frame in frames:
                        if isinstance(frame, Hello):
                            pause_s, told, self.farewell = FIRST_PAUSE_S, False, None
                        last = frame
                        yield frame
                why = "the desk closed the connection"
            except NoDesk as error:
                why = str(error)
            except (OSError, ValueError, msgspec.DecodeError) as error:
                why = f"the connection to the desk broke: {error}"
            finally:
                await self._close()
            if isinstance(last, Farewell):
                self.farewell, told, said = last.reason, True, self._died()
                if await self._ended():
                    return
            elif self.farewell is not None and self.place.running() is None:
                return  # it still answered when it had said farewell, and has ended since
            word = self._died() if self.place.running() is None else f"{why}; trying again"
            if not told or word == self._died() != said:
                told, said = True, word
                yield Farewell(word)
            while self._own:
                yield self._own.popleft()
            await self._clock.sleep_until(self._clock.now_s() + pause_s)
            pause_s = min(2.0 * pause_s, LONGEST_PAUSE_S)

    def send(self, action: dict[str, object]) -> None:
        """An operator action; one that cannot be delivered comes back as an error line."""
        what = str(action.get("action", action.get("request", "?")))
        self.send_text(msgspec.json.encode(action), what)

    def send_text(self, text: bytes, what: str = "the action") -> None:
        """The same as one line of JSON, whatever is in it: the desk judges it."""
        writer = self._writer
        if writer is None or writer.is_closing():
            self._undelivered(what, "there is no connection to the desk")
        else:
            writer.write(text.rstrip(b"\n") + b"\n")

    def end(self) -> None:
        """End the watch, desk included."""
        self.send({"request": "end"})

    async def _connected(self) -> AsyncGenerator[Frame, None]:
        reader, self._writer = await sockets.reach(self.place.socket)
        self._own_word.clear()
        reading = asyncio.ensure_future(reader.readline())
        own = asyncio.ensure_future(self._own_word.wait())
        try:
            while True:
                await asyncio.wait({reading, own}, return_when=asyncio.FIRST_COMPLETED)
                if own.done():
                    self._own_word.clear()
                    while self._own:
                        yield self._own.popleft()
                    own = asyncio.ensure_future(self._own_word.wait())
                if reading.done():
                    text = reading.result()
                    if not text.endswith(b"\n"):
                        return
                    frame = decode_frame(text)
                    if isinstance(frame, Hello) or not isinstance(frame, Happened | Farewell):
                        self._state = frame.state
                    yield frame
                    reading = asyncio.ensure_future(reader.readline())
        finally:
            reading.cancel()
            own.cancel()

    def _died(self) -> str:
        """What to do about a desk that is gone without a word, with the way that its show has from here."""
        ways = [str(self.place.show_path)]
        with suppress(OSError, ValueError):  # the folder that this screen was begun in may be gone
            ways.append(os.path.relpath(self.place.show_path))
        command = "rehearse" if self.place.rehearsal else "watch"
        return f"the desk has died; start it again: longlace {command} {as_argument(min(ways, key=len))}"

    async def _ended(self) -> bool:
        """After a farewell: whether the desk has let go of its lock, which it does when its record is closed."""
        for _ in range(40):
            if self.place.running() is None:
                return True
            with suppress(NoDesk):
                _, writer = await sockets.reach(self.place.socket)
                writer.close()
                return False  # it serves others: it was this screen alone that was sent away
            await self._clock.sleep_until(self._clock.now_s() + FIRST_PAUSE_S)
        return False

    def _undelivered(self, what: str, why: str) -> None:
        s = self._state
        line = ErrorLine(
            seq=s.seq if s else 0,
            at=s.at if s else "",
            show_s=s.show_s if s else None,
            text=f"{what} was not done: {why}",
        )
        self._own.append(Happened(line))
        self._own_word.set()

    async def _close(self) -> None:
        writer, self._writer = self._writer, None
        if writer is not None:
            writer.close()
            with suppress(OSError):
                await writer.wait_closed()
