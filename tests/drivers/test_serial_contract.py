"""The serial driver keeps the contract of all drivers: real pySerial on a real pty, in real time."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
from contract import WIRING, DriverContract, Rig
from serial_double import Adapter, Pty

from drivers.driver import Driver, find
from drivers.serial_line import SerialDriver
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec


class SerialRig(Rig):
    """An adapter on a pty."""

    slack_s = 0.15
    bad_options = (
        {"no_such_key": 1},
        {"baud": "fast"},
        {"baud": 0},
        {"port": None},
        {"usb_serial": "A1"},
        {"port": "nonsense://here"},
        {"port": "socket://here:99999999"},
        {"port": ""},
    )

    def __init__(self, folder: Path) -> None:
        self.clock = SystemClock()
        self.adapter = Adapter(self.clock.now_s)
        self.pty = Pty(folder / "ttyNORTH", self.adapter)
        self._speaking: asyncio.Task[None] | None = None

    @property
    def driver(self) -> type[Driver]:
        return SerialDriver

    def spec(self, **options: Any) -> AdapterSpec:
        return AdapterSpec("north", "serial", {"port": str(self.pty.path)} | options, WIRING)

    async def start(self) -> None:
        self.pty.plug()
        self._speaking = asyncio.create_task(self.adapter.speak())

    async def stop(self) -> None:
        assert self._speaking is not None
        self._speaking.cancel()
        await asyncio.gather(self._speaking, return_exceptions=True)
        self.pty.unplug()

    async def pass_s(self, seconds: float) -> None:
        await asyncio.sleep(seconds)

    def held(self) -> bool:
        return self.pty.held()

    def contact(self, level: int, closed: bool) -> None:
        self.adapter.contact(level, closed)

    def pulses(self, counter: int, n: int) -> None:
        self.adapter.pulses(counter, n)

    def arm(self, analog: int, raw: int) -> None:
        self.adapter.raw[analog] = raw

    def restart(self) -> None:
        self.adapter.power_up(0)
        self.adapter.hi()

    def silence(self, on: bool) -> None:
        self.adapter.quiet = on

    def unplug(self) -> None:
        self.pty.unplug()

    def plug(self) -> None:
        self.pty.plug()


@pytest.mark.realtime
class TestSerialContract(DriverContract):
    def make_rig(self, tmp_path: Path) -> Rig:
        return SerialRig(tmp_path)


def test_the_show_files_word_for_it_finds_it() -> None:
    assert find("serial") is SerialDriver
