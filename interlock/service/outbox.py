"""What waits for one screen: all lines in order, and the newest state, which overtakes the one before it.

A screen that is more than :data:`MOST_EVENTS` lines or :data:`MOST_BYTES` behind is cut off: what waits
for it is thrown away, it is told so if it ever reads again, and it catches up when it comes back, for it
then begins with the newest state.
"""

from __future__ import annotations

import asyncio
from collections import deque

from interlock.watch.state import Farewell, Frame, encode

MOST_EVENTS = 10_000
MOST_BYTES = 8 * 1024 * 1024
_PIPE_BYTES = 65_536
"""What may wait in the transport: the rest waits in the outbox, where it is counted."""


def frame_bytes(frame: Frame) -> bytes:
    """As it goes over the socket."""
    return encode(frame) + b"\n"


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
            self._last = frame_bytes(Farewell(reason))
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
