"""Ports that come and go, by name, by USB number and over a network: real pySerial on ptys and sockets, in real time."""

from __future__ import annotations

import asyncio
import itertools
import socket
import threading
from pathlib import Path
from types import SimpleNamespace

import pytest
import serial
from serial import rfc2217
from serial_double import Adapter, Pty, line
from serial_running import CLOCK, Running

from drivers import serial_port
from interlock.signals import Contacts


class Server:
    """The adapter behind a TCP port of this computer, as a serial server has it."""

    def __init__(self, adapter: Adapter) -> None:
        self.adapter = adapter
        self.writers: list[asyncio.StreamWriter] = []

    async def __aenter__(self) -> Server:
        self.server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        self.url = f"socket://127.0.0.1:{self.server.sockets[0].getsockname()[1]}"
        self.speaking = asyncio.create_task(self.adapter.speak())
        return self

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.writers.append(writer)
        self.adapter.send = writer.write
        while data := await reader.read(4096):
            self.adapter.hear(data)
        self.adapter.send = lambda data: None
        writer.close()

    def hang_up(self) -> None:
        self.adapter.send = lambda data: None
        for writer in self.writers:
            writer.close()

    async def __aexit__(self, *_: object) -> None:
        self.speaking.cancel()
        self.hang_up()
        self.server.close()
        await self.server.wait_closed()
        await asyncio.sleep(0)


@pytest.mark.realtime
async def test_an_adapter_behind_a_socket_is_heard_and_found_again_when_the_line_drops() -> None:
    async with Server(Adapter(CLOCK.now_s)) as server, Running(port=server.url) as run:
        await run.until(run.counted)
        server.hang_up()
        await run.until(lambda: run.states()[-1] == "gone")
        run.said.clear()
        await run.until(run.counted)
        assert "restarted" not in run.states()


@pytest.mark.realtime
async def test_a_device_given_by_its_usb_number_is_found_under_another_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    adapter = Adapter(CLOCK.now_s)
    first, second = Pty(tmp_path / "ttyACM0", adapter), Pty(tmp_path / "ttyACM3", adapter)
    there = [SimpleNamespace(device=str(tmp_path / "ttyACM9"), serial_number=None)]
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: there)
    speaking = asyncio.create_task(adapter.speak())
    async with Running(usb_serial="E6614c31") as run:
        await run.until(lambda: run.states() == ["gone"])
        text = run.said[0].text  # type: ignore[union-attr]
        assert "E6614c31" in text
        assert "not plugged in" in text
        first.plug()
        there.append(SimpleNamespace(device=str(first.path), serial_number="E6614C31"))
        await run.until(run.counted)
        there.pop()
        first.unplug()
        second.plug()
        there.append(SimpleNamespace(device=str(second.path), serial_number="E6614C31"))
        run.said.clear()
        await run.until(run.counted)
        assert run.states()[:2] == ["gone", "up"]
    speaking.cancel()
    second.unplug()


@pytest.mark.realtime
async def test_a_port_is_had_by_one_program_alone(tmp_path: Path) -> None:
    adapter = Adapter(CLOCK.now_s)
    pty = Pty(tmp_path / "tty", adapter)
    pty.plug()
    async with Running(port=str(pty.path)) as run:
        await run.until(pty.held)
        await asyncio.sleep(0.05)
        async with Running(port=str(pty.path)) as other:
            await other.until(lambda: other.states() == ["gone"])
            assert "another program" in other.said[0].text  # type: ignore[union-attr]
        assert "gone" not in run.states()
    pty.unplug()


@pytest.mark.realtime
async def test_a_contact_that_chatters_without_end_loses_nothing_and_holds_up_nobody() -> None:
    lines = 5_000
    flood = b"".join(line("LV", n % 65536, n, n % 2) for n in range(lines))

    async def pour(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.readline()  # asked who it is: what is there before a port is open, opening throws away
        writer.write(line("HI", 65535, 0, "v1", "north", "levels=1", "counters=1", "analogs=0") + flood)
        await reader.read()
        writer.close()
        ended.set()

    ended = asyncio.Event()
    said_at_each_turn = [0]

    async def watch() -> None:
        while True:
            said_at_each_turn.append(len(run.said))
            await asyncio.sleep(0)

    server = await asyncio.start_server(pour, "127.0.0.1", 0)
    url = f"socket://127.0.0.1:{server.sockets[0].getsockname()[1]}"
    async with server:
        try:
            async with Running(port=url) as run, asyncio.TaskGroup() as beside:
                watching = beside.create_task(watch())
                # Whether all are there is looked up only once enough has been said; a slow computer may take its time.
                await run.until(
                    lambda: (
                        len(run.said) >= lines and sum(isinstance(r, Contacts) for r in run.said) >= lines
                    ),
                    20.0,
                )
                watching.cancel()
        finally:
            await asyncio.wait_for(ended.wait(), 1.0)  # so that a failure leaves no socket to the next test
    states = [r.values[0][1] for r in run.said if isinstance(r, Contacts)]
    assert states == [n % 2 == 1 for n in range(lines)]
    at_once = max(b - a for a, b in itertools.pairwise(said_at_each_turn))
    assert at_once <= 2 * serial_port.CHUNK / 15, (
        "others have their turn after one or two reads of 15-byte lines"
    )


@pytest.mark.realtime
async def test_a_line_that_only_echoes_is_no_adapter() -> None:
    async with Running(port="loop://") as run:
        await asyncio.sleep(0.4)
        assert run.said == []


@pytest.mark.realtime
@pytest.mark.filterwarnings("ignore:setDaemon:DeprecationWarning", "ignore:setName:DeprecationWarning")
async def test_a_serial_server_of_rfc_2217_is_heard() -> None:
    """The far side is pySerial's own port manager over a socket, its serial port a loop that we write into."""
    listener = socket.create_server(("127.0.0.1", 0))
    ended = threading.Event()

    def serve() -> None:
        conn, _ = listener.accept()
        far = serial.serial_for_url("loop://", timeout=0.05)
        writer = SimpleNamespace(write=conn.sendall)
        manager = rfc2217.PortManager(far, writer)
        adapter = Adapter(CLOCK.now_s)
        adapter.send = lambda data: conn.sendall(b"".join(manager.escape(data)))
        conn.settimeout(0.05)
        with conn:
            while not ended.is_set():
                try:
                    data = conn.recv(1024)
                except TimeoutError:
                    adapter.ct()
                    continue
                if not data:
                    return
                adapter.hear(b"".join(manager.filter(data)))

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        async with Running(port=f"rfc2217://127.0.0.1:{listener.getsockname()[1]}") as run:
            await run.until(run.counted)
    finally:
        ended.set()
        thread.join()
        listener.close()
