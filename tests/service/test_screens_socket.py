"""The door of a desk: whose it is, what stands in its way, and in which order everything behind it ends."""

from __future__ import annotations

import asyncio
import json
import os
import socket
import stat
from pathlib import Path

import pytest
from bare_client import Client
from desk_rig import make_show, running

from interlock.clock import SystemClock
from interlock.service import sockets
from interlock.service.place import Lock, Place
from interlock.service.running import RunningDesk
from interlock.watch.state import (
    Farewell,
    Hello,
)


async def test_the_socket_is_this_users_alone(folder: Path) -> None:
    async with running(folder) as (_, place, _):
        mode = place.socket.stat().st_mode
        assert stat.S_ISSOCK(mode)
        assert stat.S_IMODE(mode) == 0o600
    assert not place.socket.exists()


async def test_a_stale_socket_is_replaced(folder: Path) -> None:
    async with running(folder) as (_, place, _):
        pass
    with socket.socket(socket.AF_UNIX) as left:  # behind, by a killed desk
        left.bind(str(place.socket))
    assert place.socket.is_socket()
    async with running(folder) as (_, place, _):
        screen = await Client.on(place)
        assert isinstance(await screen.frame(), Hello)
        await screen.close()


async def test_where_there_are_no_unix_sockets_a_secret_in_a_private_file_opens_the_door(
    folder: Path,
) -> None:
    path = folder / "door"
    served: list[bytes] = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        served.append(await reader.readline())
        writer.write(b"welcome\n")
        writer.close()

    server = await sockets.listen(path, serve, unix=False)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    reader, writer = await sockets.reach(path, unix=False)
    writer.write(b"hello\n")
    assert await reader.readline() == b"welcome\n"
    writer.close()
    port = json.loads(path.read_bytes())["port"]
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(b"guess\nhello\n")
    assert await reader.read() == b""
    writer.close()
    assert served == [b"hello\n"]
    server.close()
    await server.wait_closed()


async def test_readers_bus_record_and_port_end_in_this_order(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    async with running(folder) as (desk, place, journal):
        journal.order = order
        close_bus, close_port = desk.bus.close, desk._close_port

        def bus() -> None:
            order.append("bus")
            assert not any(t.get_name() == "north" for t in asyncio.all_tasks())
            close_bus()

        async def port() -> None:
            order.append("port")
            await close_port()

        monkeypatch.setattr(desk.bus, "close", bus)
        monkeypatch.setattr(desk, "_close_port", port)
        screen = await Client.on(place)
        await screen.frame()
    assert order == ["bus", "journal", "port"]
    last = await screen.until(Farewell)
    assert isinstance(last[-1], Farewell)
    await screen.close()
    assert os.listdir(folder) == []  # noqa: PTH208 - nothing is left behind


async def test_a_screen_that_comes_before_the_desk_runs_is_told_its_first_state(folder: Path) -> None:
    """Who started a desk is told that it is ready as soon as the door is open: it must not find an empty room."""
    show = make_show(SystemClock().wall_s(), str(folder / "show.toml"))
    place = Place(show.path, folder=folder)
    lock = Lock(place)
    lock.take(show.title)
    desk = RunningDesk(show, SystemClock())
    await desk.open(lock)
    try:
        screen = await Client.on(place)
        hello = await screen.frame()
        assert isinstance(hello, Hello)
        assert hello.state.phase == "waiting"
        assert [h.house for h in hello.state.houses] == ["1", "2"]
        await screen.close()
    finally:
        desk.end("enough")
        await desk.run(lambda emit: [])
        lock.release()
    assert desk.folding.folded == 2, "its clock was tied twice to the wall's"
