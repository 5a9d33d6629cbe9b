"""One screen on a desk's socket, as bare as it can be."""

from __future__ import annotations

import asyncio

from interlock.service import sockets
from interlock.service.place import Place
from interlock.watch.state import (
    Frame,
    Happened,
    decode_frame,
)


class Client:
    """One screen, as bare as it can be."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.reader, self.writer = reader, writer

    @classmethod
    async def on(cls, place: Place) -> Client:
        return cls(*await sockets.reach(place.socket))

    async def frame(self) -> Frame | None:
        text = await asyncio.wait_for(self.reader.readline(), 10)
        return decode_frame(text) if text else None

    async def until(self, kind: type) -> list[Frame]:
        """Frames up to the first whose line (or that itself) is of ``kind``."""
        got: list[Frame] = []
        while True:
            frame = await self.frame()
            assert frame is not None, f"the desk hung up; before: {got[-3:]}"
            got.append(frame)
            if isinstance(frame, kind) or (isinstance(frame, Happened) and isinstance(frame.line, kind)):
                return got

    def send(self, text: bytes) -> None:
        self.writer.write(text + b"\n")

    async def close(self) -> None:
        self.writer.close()
        await self.writer.wait_closed()
