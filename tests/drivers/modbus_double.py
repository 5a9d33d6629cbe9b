"""Modbus modules to test against: pymodbus's own server over TCP, or over two ptys joined by hand."""

from __future__ import annotations

import asyncio
import os
import tty
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pymodbus.constants import ExcCodes
from pymodbus.exceptions import NoSuchIdException
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice


class Unit:
    """One module: 16 discrete inputs, 16 coils, 64 input and 64 holding registers."""

    def __init__(self, unit: int = 1) -> None:
        self.unit = unit
        self.bits = {1: 0, 2: 0}  # coils, discrete inputs
        self.registers = {3: [0] * 64, 4: [0] * 64}  # holding, input
        self.dead = False
        self.asked: list[tuple[int, int, int]] = []
        """(function, address, count) of every request."""
        self.answers_with: ExcCodes | None = None

    async def _action(
        self, function: int, _start: int, address: int, count: int, registers: list[int], _values: Any
    ) -> ExcCodes | None:
        self.asked.append((function, address, count))
        if self.dead:
            raise NoSuchIdException("no power")  # which the server takes for nobody there
        if function in self.bits:
            registers[0] = self.bits[function]
        else:
            registers[:64] = self.registers[function]
        return self.answers_with

    def device(self) -> SimDevice:
        bits = [SimData(0, values=[False] * 16, datatype=DataType.BITS)]
        registers = [SimData(0, values=[0] * 64, datatype=DataType.REGISTERS)]
        return SimDevice(
            self.unit,
            (bits, [*bits], registers, [*registers]),
            action=self._action,
        )


class TcpModules:
    """Modules behind one host."""

    def __init__(self, *units: Unit) -> None:
        self.units = units
        self.port = 0
        self.server: ModbusTcpServer | None = None

    async def plug(self) -> None:
        self.server = ModbusTcpServer(
            [u.device() for u in self.units], address=("127.0.0.1", self.port), ignore_missing_devices=True
        )
        await self.server.serve_forever(background=True)
        self.port = self.server.transport.sockets[0].getsockname()[1]  # type: ignore[attr-defined]

    async def unplug(self) -> None:
        if self.server is not None:
            await self.server.shutdown()
            self.server = None
            await asyncio.sleep(0)

    def held(self) -> bool:
        """Whether anybody has a connection to us open, by the system's own table (Linux)."""
        rows = [row.split() for row in Path("/proc/net/tcp").read_text().splitlines()[1:]]
        return any(row[2].endswith(f":{self.port:04X}") and row[3] == "01" for row in rows)


class Pair:
    """Two ptys joined: what is written into one comes out of the other, and may be changed on the way."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.damage = lambda data: data
        self.late_s: Callable[[bytes], float] = lambda data: 0.0
        """How long what comes back is held up."""
        self._fds: list[int] = []
        self.near = self.far = ""

    def plug(self) -> None:
        masters = []
        for _ in range(2):
            master, slave = os.openpty()
            tty.setraw(slave)
            os.set_blocking(master, False)
            self._fds += [master, slave]
            masters.append(master)
        loop = asyncio.get_running_loop()
        loop.add_reader(masters[0], self._pass, masters[0], masters[1])
        loop.add_reader(masters[1], self._pass, masters[1], masters[0])
        self.near, self.far = (os.ttyname(fd) for fd in self._fds[1::2])
        self.path.symlink_to(self.near)

    def unplug(self) -> None:
        if self._fds:
            for fd in self._fds[::2]:
                asyncio.get_running_loop().remove_reader(fd)
            for fd in self._fds:
                os.close(fd)
            self._fds.clear()
            self.path.unlink()

    def _pass(self, here: int, there: int) -> None:
        data = self.damage(os.read(here, 4096))
        if there == self._fds[0] and (late_s := self.late_s(data)) > 0.0:
            asyncio.get_running_loop().call_later(late_s, self._deliver, there, data)
        else:
            os.write(there, data)

    def _deliver(self, there: int, data: bytes) -> None:
        if there in self._fds:
            os.write(there, data)

    def held(self) -> bool:
        if not self._fds:
            return False
        fds = []
        for fd in Path("/proc/self/fd").iterdir():
            if fd.exists() or fd.is_symlink():
                fds.append(str(fd.readlink()))  # noqa: PERF401
        return fds.count(self.near) > 1


class SerialModules:
    """Modules on one serial line."""

    def __init__(self, path: Path, *units: Unit) -> None:
        self.units = units
        self.pair = Pair(path)
        self.server: ModbusSerialServer | None = None

    async def plug(self) -> None:
        self.pair.plug()
        self.server = ModbusSerialServer(
            [u.device() for u in self.units],
            port=self.pair.far,
            baudrate=19200,
            ignore_missing_devices=True,
            reconnect_delay=0,
        )
        await self.server.serve_forever(background=True)

    async def unplug(self) -> None:
        if self.server is not None:
            await self.server.shutdown()
            self.server = None
        self.pair.unplug()
        await asyncio.sleep(0)

    def held(self) -> bool:
        return self.pair.held()
