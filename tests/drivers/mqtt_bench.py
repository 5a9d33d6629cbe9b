"""A real mosquitto on loopback, and a wire to it that can be cut."""

from __future__ import annotations

import asyncio
import contextlib
import getpass
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Coroutine
from concurrent.futures import Future
from pathlib import Path
from typing import Any, TypeVar

import pytest

T = TypeVar("T")
MOSQUITTO = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
needs_mosquitto = pytest.mark.skipif(MOSQUITTO is None, reason="mosquitto is not installed here")


def free_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


class Broker:
    """``more``: further lines of its configuration. ``at``, ``port``: where it listens; ``inside``: on which computer."""

    def __init__(
        self,
        folder: Path,
        more: str = "allow_anonymous true\n",
        *,
        at: str = "127.0.0.1",
        port: int = 0,
        inside: tuple[str, ...] = (),
    ) -> None:
        self.folder = folder
        self.port = port or free_port()
        self._inside = inside
        self.conf = folder / "mosquitto.conf"
        self.conf.write_text(
            f"user {getpass.getuser()}\nlistener {self.port} {at}\npersistence false\n"
            "set_tcp_nodelay true\n"
            f"log_dest file {folder / 'mosquitto.log'}\n{more}",
            encoding="utf-8",
        )
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        assert MOSQUITTO is not None
        self._process = subprocess.Popen(
            [*self._inside, MOSQUITTO, "-c", str(self.conf)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        if self._inside:
            return  # who is to come to it tries until it is there
        for _ in range(200):
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 0.2):
                return
            assert self._process.poll() is None, (self.folder / "mosquitto.log").read_text()
            time.sleep(0.01)
        raise AssertionError("mosquitto does not listen")

    @property
    def pid(self) -> int | None:
        return None if self._process is None else self._process.pid

    def stop(self) -> None:
        """At once, as when its computer loses power."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None


class Elsewhere:
    """Another computer: a loop in a thread of its own, whose tasks are not the desk's."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="elsewhere")
        self._thread.start()

    def start(self, coroutine: Coroutine[Any, Any, T]) -> Future[T]:
        return asyncio.run_coroutine_threadsafe(coroutine, self._loop)

    async def do(self, coroutine: Coroutine[Any, Any, T]) -> T:
        return await asyncio.wrap_future(self.start(coroutine))

    def call(self, function: Callable[[], object]) -> None:
        self._loop.call_soon_threadsafe(function)

    def end(self) -> None:
        async def rest() -> None:
            tasks = asyncio.all_tasks() - {asyncio.current_task()}
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            await self._loop.shutdown_default_executor()

        self.start(rest()).result(5.0)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()


class Wire:
    """A network between a client and the broker: cut (connections end), or dead (nothing passes, nothing ends)."""

    def __init__(self, to: int) -> None:
        self.port, self._to = free_port(), to
        self._server: asyncio.Server | None = None
        self._tasks: set[asyncio.Task[None]] = set()
        self._writers: set[asyncio.StreamWriter] = set()
        self.alive = asyncio.Event()
        self.alive.set()
        self.delay_s = 0.0

    async def plug(self) -> None:
        self._server = await asyncio.start_server(self._join, "127.0.0.1", self.port)

    async def cut(self) -> None:
        server, self._server = self._server, None
        if server is not None:
            server.close()
        for writer in list(self._writers):
            writer.transport.abort()
        for task in list(self._tasks):
            task.cancel()
        if self._tasks:
            await asyncio.wait(set(self._tasks))

    @property
    def held(self) -> bool:
        """Whether a socket of this process leads into it."""
        for fd in Path("/proc/self/fd").iterdir():
            with (
                contextlib.suppress(OSError),
                socket.fromfd(int(fd.name), socket.AF_INET, socket.SOCK_STREAM) as s,
            ):
                peer = s.getpeername()
                if isinstance(peer, tuple) and peer[1] == self.port:
                    return True
        return False

    async def _join(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._tasks.add(task)
        self._writers.add(writer)
        other = None
        try:
            theirs, other = await asyncio.open_connection("127.0.0.1", self._to)
            self._writers.add(other)
            pumps = {
                asyncio.create_task(self._pump(reader, other)),
                asyncio.create_task(self._pump(theirs, writer)),
            }
            try:
                await asyncio.wait(pumps, return_when=asyncio.FIRST_COMPLETED)
            finally:
                for pump in pumps:
                    pump.cancel()
                await asyncio.wait(pumps)
        except (OSError, asyncio.CancelledError):
            pass
        finally:
            for w in (writer, other):
                if w is not None:
                    self._writers.discard(w)
                    w.transport.abort()
            self._tasks.discard(task)

    async def _pump(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError):
            while data := await reader.read(65536):
                await self.alive.wait()
                if self.delay_s:
                    await asyncio.sleep(self.delay_s)
                writer.write(data)
                await writer.drain()
