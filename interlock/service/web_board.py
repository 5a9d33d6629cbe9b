"""What every page of the board in a browser shows, drawn once for all of them."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress

import msgspec

from interlock.clock import Clock, SystemClock
from tui.browser import board_document
from tui.draw.view import make_view
from tui.look.glyphs import FULL
from tui.model import Model
from tui.source import Source

PAINT_S = 0.5
BEAT_S = 2.0
"""At least so often something is sent, so that a page knows that it is still heard."""


class Board:
    """As the desk says it, and as its viewers have it."""

    def __init__(self, source: Source, clock: Clock | None = None) -> None:
        self._source = source
        self._clock = clock if clock is not None else SystemClock()
        self._model = Model(heard_s=self._clock.now_s())
        self._changed = asyncio.Condition()
        self._seen = (0, b"")
        self._sent_s = -BEAT_S
        self._touched = asyncio.Event()
        self.ended = False
        self.viewers = 0

    async def follow(self) -> None:
        """Hear the desk until there will never be another word from it."""
        async for frame in self._source.frames():
            if self._model.take(frame, self._clock.now_s()):
                self._touched.set()  # a new high alarm is on the page at once
        self.end()

    def end(self) -> None:
        """No more of it: every viewer is let go."""
        self.ended = True
        self._touched.set()

    async def paint(self) -> None:
        """Draw twice a second what has changed."""
        while True:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._touched.wait(), PAINT_S)
            self._touched.clear()
            text = self.document() if self.viewers or self.ended else None
            now_s = self._clock.now_s()
            if self.ended or (text is not None and (text != self._seen[1] or now_s - self._sent_s >= BEAT_S)):
                async with self._changed:
                    self._seen = (self._seen[0] + 1, text or b"")
                    self._sent_s = now_s
                    self._changed.notify_all()
            if self.ended:
                return

    def document(self) -> bytes | None:
        """The board now, as JSON; None until the desk has spoken."""
        state, layout, now_s = self._model.newest(), self._model.layout, self._clock.now_s()
        if state is None or layout is None:
            return None
        view = make_view(
            layout, state, g=FULL, lost_s=self._model.lost_s(now_s), why=self._model.farewell or "",
            disarmed=self._model.disarmed,
            age_s=self._model.age_s(now_s),
        )  # fmt: skip
        return msgspec.json.encode(board_document(view))

    async def events(self) -> AsyncIterator[bytes]:
        """Server-sent events; a slow viewer gets the newest, not all."""
        self.viewers += 1
        try:
            first = self.document()
            if first is not None:
                yield _event(first)
            n = self._seen[0]
            while not self.ended:
                async with self._changed:
                    await self._changed.wait_for(lambda n=n: self._seen[0] > n)  # type: ignore[misc]
                    n, text = self._seen
                if text:
                    yield _event(text)
        finally:
            self.viewers -= 1


def _event(text: bytes) -> bytes:
    return b"data: " + text + b"\n\n"  # JSON has no line end in it
