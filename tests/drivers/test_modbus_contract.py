"""The Modbus driver keeps the contract of all drivers, over TCP and over RTU, against pymodbus's own server."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any, ClassVar

import pytest
from contract import WIRING, DriverContract, Rig
from modbus_double import SerialModules, TcpModules, Unit

from drivers.driver import Driver, find
from drivers.modbus import ModbusDriver
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec

DEVICE = {
    "unit": 1,
    "levels": [{"table": "discrete"}],
    "counters": [{"number": 0, "at": 4, "bits": 32, "words": "low-first"}],
    "analogs": [{"number": 0, "at": 6}],
}


class ModbusRig(Rig):
    """One module, asked every 20 ms. Its edges are dated by the request that saw them."""

    slack_s = 0.15
    line: TcpModules | SerialModules
    own: ClassVar[dict[str, Any]]
    bad_options = (
        {"no_such_key": 1},
        {"devices": []},
        {"devices": [DEVICE, DEVICE]},
        {"devices": [DEVICE | {"levels": []}]},
        {"devices": [DEVICE | {"unit": 300}]},
        {"devices": [DEVICE | {"counters": [{"number": 0, "at": 65535, "bits": 32}]}]},
        {"poll_ms": 0},
        {"port": "/dev/ttyUSB0", "host": "192.0.2.1", "baud": 9600},
        {"port": "socket://192.0.2.1:502", "baud": 9600, "host": None},
        {"host": None, "port": "/dev/ttyUSB0", "baud": None},
    )

    def __init__(self) -> None:
        self.clock = SystemClock()
        self.unit = Unit()
        self.arm(0, 2055)
        self._moving: list[asyncio.Task[None]] = []

    @property
    def driver(self) -> type[Driver]:
        return ModbusDriver

    def spec(self, **options: Any) -> AdapterSpec:
        own = {"poll_ms": 20, "timeout_ms": 100, "devices": [DEVICE]} | self.where()
        return AdapterSpec("north", "modbus", own | options, WIRING)

    def where(self) -> dict[str, Any]:
        raise NotImplementedError

    async def start(self) -> None:
        await self.line.plug()

    async def stop(self) -> None:
        await asyncio.gather(*self._moving)
        await self.line.unplug()

    async def pass_s(self, seconds: float) -> None:
        await asyncio.gather(*self._moving)
        self._moving.clear()
        await asyncio.sleep(seconds)

    def held(self) -> bool:
        return self.line.held()

    def contact(self, level: int, closed: bool) -> None:
        mask = self.unit.bits[2]
        self.unit.bits[2] = mask | 1 << level if closed else mask & ~(1 << level)

    def pulses(self, counter: int, n: int) -> None:
        low, high = self.unit.registers[4][4:6]
        count = (high << 16 | low) + n
        self.unit.registers[4][4:6] = [count & 0xFFFF, count >> 16]

    def arm(self, analog: int, raw: int) -> None:
        self.unit.registers[4][6] = raw

    def restart(self) -> None:
        self.unit.registers[4][4:6] = [0, 0]

    def silence(self, on: bool) -> None:
        self.unit.dead = on

    def unplug(self) -> None:
        self._moving.append(asyncio.ensure_future(self.line.unplug()))

    def plug(self) -> None:
        self._moving.append(asyncio.ensure_future(self.line.plug()))


class TcpRig(ModbusRig):
    def __init__(self) -> None:
        super().__init__()
        self.line = TcpModules(self.unit)

    def where(self) -> dict[str, Any]:
        return {"host": "127.0.0.1", "tcp_port": self.line.port or 502}


class RtuRig(ModbusRig):
    def __init__(self, folder: Path) -> None:
        super().__init__()
        self.line = SerialModules(folder / "ttySOUTH", self.unit)

    def where(self) -> dict[str, Any]:
        return {"port": str(self.line.pair.path), "baud": 19200}  # type: ignore[union-attr]


@pytest.mark.realtime
@pytest.mark.long
class TestModbusTcpContract(DriverContract):
    def make_rig(self, tmp_path: Path) -> Rig:
        return TcpRig()


# The same driver as over TCP; the line below it is tested in test_modbus_line.py, so this can wait for the long run.
@pytest.mark.realtime
@pytest.mark.long
class TestModbusRtuContract(DriverContract):
    def make_rig(self, tmp_path: Path) -> Rig:
        return RtuRig(tmp_path)


def test_the_show_files_word_for_it_finds_it() -> None:
    assert find("modbus") is ModbusDriver
