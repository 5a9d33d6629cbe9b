"""The hardware's double on its real line, one for each driver: five houses that stand with their lamps lit."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from benchmarks._pty_gpio import EVENT, FALLING, RISING
from benchmarks._pty_watch import PROGRAM, TIED
from benchmarks._pty_wire import WireAdapter, now

# The doubles of the drivers' own tests: pymodbus's server on two ptys or a socket, and a real mosquitto.
sys.path[:0] = [str(Path(__file__).parents[1] / "tests" / "drivers")]
from modbus_double import SerialModules, TcpModules, Unit  # noqa: E402
from mqtt_bench import Broker, Elsewhere  # noqa: E402

HOUSES, SIGNALS = 5, ("run", "lamp", "dowser")
LAMP, DOWSER = 1, 2
LIT = sum(1 << len(SIGNALS) * h + LAMP for h in range(HOUSES))


class Hardware:
    """One line with its inputs: ``spec`` are the keys of its ``[[adapter]]``."""

    name = ""
    program: tuple[str, ...] = PROGRAM
    pass_fds: tuple[int, ...] = ()

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.adapters: list[WireAdapter] = []

    def spec(self) -> str:
        raise NotImplementedError

    def change(self, bit: int, closed: bool) -> float:
        """The second just before the contact changes."""
        raise NotImplementedError

    def begin(self) -> None:
        """After the watch has started."""

    def end(self) -> None:
        for adapter in self.adapters:
            adapter.close()


class OnSerial(Hardware):
    name = "serial"

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.adapters = [WireAdapter("north", len(SIGNALS) * HOUSES, mask=LIT)]

    def spec(self) -> str:
        return f'driver = "serial"\nport = "{self.adapters[0].port}"\n'

    def change(self, bit: int, closed: bool) -> float:
        return self.adapters[0].change(bit, closed)[0]


class OnGpio(Hardware):
    name = "GPIO"

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        read, self._write = os.pipe()
        self.pass_fds, self.program = (read,), (sys.executable, "-m", "benchmarks._pty_gpio", str(read))
        self._seq, self._line_seq = 0, [0] * len(SIGNALS) * HOUSES

    def spec(self) -> str:
        lines = ", ".join(f"{k} = {k}" for k in range(len(self._line_seq)))
        return f'driver = "gpio"\nlevel_lines = {{ {lines} }}\n'

    def change(self, bit: int, closed: bool) -> float:
        self._seq += 1
        self._line_seq[bit] += 1
        at_s = now()
        kind = RISING if closed else FALLING
        os.write(self._write, EVENT.pack(kind, int(at_s * 1e9), bit, self._seq, self._line_seq[bit]))
        return at_s

    def begin(self) -> None:
        for h in range(HOUSES):
            self.change(len(SIGNALS) * h + LAMP, closed=True)

    def end(self) -> None:
        os.close(self._write)
        os.close(self.pass_fds[0])


class _Modbus(Hardware):
    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.unit, self.there = Unit(), Elsewhere()
        self.unit.bits[2] = LIT
        self.line = self.make()
        self.there.start(self.line.plug()).result(10.0)

    def make(self) -> Any:
        raise NotImplementedError

    def where(self) -> str:
        raise NotImplementedError

    def spec(self) -> str:
        count = len(SIGNALS) * HOUSES
        blocks = f'[{{ table = "discrete", at = 0, count = {count} }}]'
        return f'driver = "modbus"\n{self.where()}\ndevices = [{{ unit = 1, levels = {blocks} }}]\n'

    def change(self, bit: int, closed: bool) -> float:
        mask = self.unit.bits[2]
        at_s = now()
        self.unit.bits[2] = mask | 1 << bit if closed else mask & ~(1 << bit)
        return at_s

    def end(self) -> None:
        self.there.start(self.line.unplug()).result(10.0)
        self.there.end()


class OnRtu(_Modbus):
    name = "Modbus RTU"

    def make(self) -> Any:
        return SerialModules(self.folder / "ttyMODBUS", self.unit)

    def where(self) -> str:
        return f'port = "{self.folder / "ttyMODBUS"}"\nbaud = 19200'


class OnTcp(_Modbus):
    name = "Modbus TCP"

    def make(self) -> Any:
        return TcpModules(self.unit)

    def where(self) -> str:
        return f'host = "127.0.0.1"\ntcp_port = {self.line.port}'


class OnStation(OnSerial):
    name = "station over MQTT"

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.broker = Broker(folder)
        self.broker.start()
        self.reach = f'broker = "127.0.0.1"\nport = {self.broker.port}\ntls = false\n'
        file = folder / "far.toml"
        file.write_text(
            f'[station]\nname = "far"\n{self.reach}[[adapter]]\nname = "north"\n{super().spec()}{levels()}'
        )
        self.station = subprocess.Popen(
            [*TIED, *PROGRAM, "station", str(file)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def spec(self) -> str:
        return f'driver = "mqtt"\nstation = "far"\n{self.reach}'

    def end(self) -> None:
        self.station.terminate()
        try:
            self.station.wait(5)
        finally:
            self.station.kill()
            self.station.wait()
            self.broker.stop()
            super().end()


def levels() -> str:
    wired = [f"{h + 1}.{signal}" for h in range(HOUSES) for signal in SIGNALS]
    return "[adapter.levels]\n" + "".join(f'{k} = "{signal}"\n' for k, signal in enumerate(wired))
