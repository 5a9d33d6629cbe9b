"""Ports that come and go: real pySerial on ptys and sockets, in real time where it cannot be otherwise."""

from __future__ import annotations

import asyncio
import itertools
import socket
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import serial
from serial import rfc2217
from serial_double import Adapter, Pty, line

from drivers import serial_port
from drivers.serial_line import SerialDriver
from drivers.serial_port import PortThread, open_port, say
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec, Contacts, CounterWire, Counts, Presence, Reading, Wiring

WIRING = Wiring(levels={0: "4.run"}, counters={0: CounterWire("4.frames")})
CLOCK = SystemClock()


class Running:
    """A driver at work on these options, and what it has said."""

    def __init__(self, **options: Any) -> None:
        self.said: list[Reading] = []
        self.driver = SerialDriver(AdapterSpec("north", "serial", options, WIRING), CLOCK)

    async def __aenter__(self) -> Running:
        self.task = asyncio.create_task(self.driver.run(self.said.append))
        return self

    async def __aexit__(self, *_: object) -> None:
        self.task.cancel()
        async with asyncio.timeout(1.0):
            await asyncio.gather(self.task, return_exceptions=True)
        assert self.task.cancelled(), "it ended by itself"

    async def until(self, what: Callable[[], bool], within_s: float = 3.0) -> None:
        end_s = CLOCK.now_s() + within_s
        while not what():
            assert CLOCK.now_s() < end_s, self.said[-5:]
            await asyncio.sleep(0.01)

    def states(self) -> list[str]:
        return [p.state for p in self.said if isinstance(p, Presence)]

    def counted(self) -> bool:
        return any(isinstance(r, Counts) for r in self.said)


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
async def test_a_thread_that_hangs_in_opening_does_not_hold_up_the_end_and_ends_when_it_comes_free(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    free, inside = threading.Event(), threading.Event()

    def stuck() -> list[Any]:
        inside.set()
        free.wait(10)
        return []

    monkeypatch.setattr("serial.tools.list_ports.comports", stuck)
    async with Running(usb_serial="A1") as run:
        await run.until(inside.is_set)
        began_s = CLOCK.now_s()
    assert CLOCK.now_s() - began_s < 1.0
    (thread,) = (t for t in threading.enumerate() if t.name == "serial north")
    said = len(run.said)
    free.set()
    thread.join(1)
    assert not thread.is_alive()
    await asyncio.sleep(0)
    assert len(run.said) == said


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


async def test_pauses_between_attempts_grow_and_end_at_the_longest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serial_port, "FIRST_PAUSE_S", 0.002)
    monkeypatch.setattr(serial_port, "LONGEST_PAUSE_S", 0.016)
    waited: list[float] = []
    enough = asyncio.Event()
    loop = asyncio.get_running_loop()

    def nowhere() -> str:
        raise OSError("it is not plugged in")

    thread = PortThread(nowhere, 115200, CLOCK, "x")
    wait = thread._stop.wait

    def measured(pause_s: float) -> bool:
        waited.append(pause_s)
        if len(waited) == 6:
            loop.call_soon_threadsafe(enough.set)
        return wait(pause_s)

    monkeypatch.setattr(thread._stop, "wait", measured)
    thread.start()
    await enough.wait()
    await thread.close()
    assert waited[:6] == [0.002, 0.004, 0.008, 0.016, 0.016, 0.016]
    events = await thread.take(100)
    assert {(e.kind, e.text) for e in events} == {("gone", "it is not plugged in")}
    assert all(a.at_s <= b.at_s for a, b in itertools.pairwise(events))


async def test_a_loop_that_ends_without_closing_takes_the_thread_with_it() -> None:
    def serve() -> PortThread:
        async def start() -> PortThread:
            thread = PortThread(lambda: "loop://", 115200, CLOCK, "orphan")
            thread.start()
            await thread.take(1)
            return thread

        return asyncio.run(start())

    orphan = await asyncio.to_thread(serve)
    orphan._thread.join(2)
    assert not orphan._thread.is_alive()


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FileNotFoundError(2, "x"), "no such device"),
        (PermissionError(13, "x"), "may not open it"),
        (serial.SerialException(11, "Could not exclusively lock port"), "another program"),
        (OSError(5, "Input/output error"), "the device is gone"),
        (serial.SerialException("the \x1b[31mdevice"), "the device"),
        (KeyError(), "KeyError"),
    ],
)
def test_why_a_port_is_not_there_is_said_in_words(error: BaseException, words: str) -> None:
    assert words in say(error)
    assert say(error).isprintable()


@pytest.mark.skipif(sys.platform != "linux", reason="a pty of Linux")
async def test_a_real_port_is_opened_at_its_speed_and_for_us_alone(tmp_path: Path) -> None:
    pty = Pty(tmp_path / "tty", Adapter(CLOCK.now_s))
    pty.plug()
    port = open_port(str(pty.path), 57600)
    assert port.baudrate == 57600
    assert port.exclusive
    port.close()
    pty.unplug()
