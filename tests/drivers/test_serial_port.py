"""The thread that holds a port: how it tries again, how it ends, and what it says of a port that is not there."""

from __future__ import annotations

import asyncio
import itertools
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
import serial
from serial_double import Adapter, Pty
from serial_running import CLOCK, Running

from drivers import serial_port
from drivers.serial_port import PortThread, open_port, say


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
