"""A board in a browser, for the tests: a desk that says what it is told to, served on a port of this machine."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from interlock.service.web import open_port, serve
from interlock.watch.state import Frame, Hello
from tui.example.moments import MOMENTS
from tui.example.show import layout

LAYOUT = layout(6)


class Told:
    """A desk that says what the test tells it to; None: never again."""

    def __init__(self, *frames: Frame) -> None:
        self.sent: list[object] = []
        self._frames: asyncio.Queue[Frame | None] = asyncio.Queue()
        for frame in frames:
            self.put(frame)

    def put(self, frame: Frame | None) -> None:
        self._frames.put_nowait(frame)

    async def frames(self) -> AsyncIterator[Frame]:
        while (frame := await self._frames.get()) is not None:
            yield frame

    def send(self, action: dict[str, object]) -> None:
        self.sent.append(action)

    def end(self) -> None:
        self.sent.append("end")


class Served:
    """A board that is served on a port of this machine."""

    def __init__(self, source: Told, port: int) -> None:
        self.source, self.port = source, port
        self.address = f"http://127.0.0.1:{port}/"

    async def open(
        self, path: str = "/", method: str = "GET", **headers: str
    ) -> tuple[int, str, asyncio.StreamReader, asyncio.StreamWriter]:
        reader, writer = await asyncio.open_connection("127.0.0.1", self.port, limit=1 << 22)
        given = {"Host": f"127.0.0.1:{self.port}", **headers}
        lines = "".join(f"{k}: {v}\r\n" for k, v in given.items())
        writer.write(f"{method} {path} HTTP/1.1\r\n{lines}\r\n".encode())
        head = (await asyncio.wait_for(reader.readuntil(b"\r\n\r\n"), 10)).decode()
        return int(head.split()[1]), head, reader, writer

    async def get(self, path: str = "/", method: str = "GET", **headers: str) -> tuple[int, str, str]:
        status, head, reader, writer = await self.open(path, method, **{"Connection": "close", **headers})
        text = (await asyncio.wait_for(reader.read(), 10)).decode()
        writer.close()
        return status, head, text


@asynccontextmanager
async def served(
    *frames: Frame, token: str | None = None, viewers: int = 8, stall_s: float = 20.0
) -> AsyncIterator[Served]:
    source = Told(*(frames or (Hello(LAYOUT, MOMENTS["well"](LAYOUT)),)))
    up = asyncio.Event()

    async def ready() -> None:
        up.set()

    with open_port("127.0.0.1", 0, stall_s) as port:
        run = asyncio.create_task(serve(source, port, token=token, viewers=viewers, ready=ready))
        await asyncio.wait_for(up.wait(), 10)
        try:
            yield Served(source, port.getsockname()[1])
        finally:
            source.put(None)
            await asyncio.wait_for(run, 15)
    assert source.sent == [], "nothing that a browser does reaches the desk"


async def event(reader: asyncio.StreamReader) -> dict[str, object]:
    """The next board of a stream."""
    while True:
        line = await asyncio.wait_for(reader.readline(), 10)
        if line.startswith(b"data: "):
            return dict(json.loads(line[6:]))
