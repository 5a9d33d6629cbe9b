"""The one function pair with which screens reach a desk: :func:`listen` and :func:`reach`.

A Unix socket, mode 0600. Where there are none: TCP on loopback, with a file of mode 0600 that holds the
port and a secret, which is the first line that a screen sends. Everything above sees two asyncio streams.
"""

from __future__ import annotations

import asyncio
import hmac
import os
import secrets
import socket
from collections.abc import Awaitable, Callable
from contextlib import suppress
from pathlib import Path

import msgspec

from interlock.errors import NoDesk

LINE_BYTES = 65_536
"""The longest line that a screen may send."""
ANSWER_BYTES = 4 * 1024 * 1024
"""The longest line that a desk may send: a state of sixty-four houses is far under it. A screen holds twice as much at most
of what it has not looked at: more waits at the desk, which cuts off a screen that is too far behind."""
OPEN_S = 5.0

Streams = tuple[asyncio.StreamReader, asyncio.StreamWriter]
Served = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]]

HAS_UNIX = hasattr(socket, "AF_UNIX") and hasattr(asyncio, "open_unix_connection")


class _Door(msgspec.Struct, frozen=True):
    port: int
    secret: str


async def listen(path: Path, served: Served, *, unix: bool = HAS_UNIX) -> asyncio.Server:
    """Serve screens at ``path``, whatever stale thing lies there. The caller holds the desk's lock."""
    _clear(path)
    if unix:
        old = os.umask(0o177)  # the socket is never there with another mode, not even for an instant
        try:
            return await asyncio.start_unix_server(served, path, limit=LINE_BYTES)
        finally:
            os.umask(old)
    secret = secrets.token_hex(32)

    async def check(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            given = await asyncio.wait_for(reader.readline(), OPEN_S)
        except (TimeoutError, ValueError, OSError):
            given = b""
        if hmac.compare_digest(given.strip(), secret.encode()):
            await served(reader, writer)
        else:
            writer.close()

    server = await asyncio.start_server(check, "127.0.0.1", 0, limit=LINE_BYTES)
    door = _Door(server.sockets[0].getsockname()[1], secret)
    _write(path, door)
    return server


async def reach(path: Path, *, unix: bool = HAS_UNIX) -> Streams:
    """Both directions to the desk at ``path``. Raises :class:`NoDesk`."""
    try:
        if unix:
            return await asyncio.wait_for(asyncio.open_unix_connection(path, limit=ANSWER_BYTES), OPEN_S)
        door = _read(path)
        reader, writer = await asyncio.wait_for(
            asyncio.open_connection("127.0.0.1", door.port, limit=ANSWER_BYTES), OPEN_S
        )
    except (OSError, TimeoutError, msgspec.DecodeError) as error:
        raise NoDesk(f"no desk answers at {path} ({error or 'it took too long'})") from error
    writer.write(door.secret.encode() + b"\n")
    return reader, writer


def _clear(path: Path) -> None:
    with suppress(FileNotFoundError):
        path.unlink()


def _write(path: Path, door: _Door) -> None:
    fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(fd, "wb") as file:
        file.write(msgspec.json.encode(door))


def _read(path: Path) -> _Door:
    return msgspec.json.decode(path.read_bytes(), type=_Door)
