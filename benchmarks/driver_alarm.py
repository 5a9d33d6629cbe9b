"""From the wire to the alarm's line, for each driver: the hardware's double on its real line, and ``longlace watch --plain``.

Five houses stand with their lamps lit; a dowser opens (heat in the gate) and shuts again, so many times. Measured is from
just before the contact changes until the alarm's line has come out of the program. Contacts change at moments that have
nothing to do with the driver's own beat: Modbus modules are asked every 50 ms. The station's adapter is serial, its
broker mosquitto. A pty carries bytes at once: a slow serial line adds its own time to these.
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

from benchmarks._pty_gpio import EVENT, FALLING, RISING
from benchmarks._pty_watch import PROGRAM, TIED, Watch, at, one, parts
from benchmarks._pty_wire import WireAdapter, World, now
from benchmarks._row import Row, run

# The doubles of the drivers' own tests: pymodbus's server on two ptys or a socket, and a real mosquitto.
sys.path[:0] = [str(Path(__file__).parents[1] / "tests" / "drivers")]
from modbus_double import SerialModules, TcpModules, Unit  # noqa: E402
from mqtt_bench import Broker, Elsewhere  # noqa: E402

HOUSES, SIGNALS = 5, ("run", "lamp", "dowser")
LAMP, DOWSER = 1, 2
TIMES = 50
"""Alarms of each house."""
PAUSE_S = (0.01, 0.06)
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


def show_text(spec: str) -> str:
    """Tomorrow's show, its machines threaded."""
    start = datetime.fromtimestamp(time.time() + 86_400.0, UTC).isoformat(timespec="seconds")
    ids = [str(h + 1) for h in range(HOUSES)]
    chain = ", ".join(f'"{h}"' for h in ids)
    return "\n".join(
        [
            '[show]\ntitle = "Five gates"\nfilm = "35mm-4p"\nfps = 24\ntimezone = "Etc/UTC"\nfirst_picture = "18+00"',
            f"motor_start = {start}\nchain = [{chain}]",
            '[[part]]\nname = "The Tide Clerk"\nkind = "feature"\nframes = 9000',
            '[[part]]\nname = "tail"\nkind = "tail"\nframes = 4000',
            *[f'[[house]]\nid = "{h}"' for h in ids],
            *[
                f'[[link]]\nfrom = "{a}"\nto = "{b}"\npath = "60 ft"\nrollers = 4\ntight = "2 s"\nspill = "2 s"'
                for a, b in pairwise(ids)
            ],
            f'[[adapter]]\nname = "north"\n{spec}{levels()}',
        ]
    )


def latencies(kind: type[Hardware], times: int = TIMES) -> list[float]:
    """Seconds from the contact to the alarm's line."""
    chance = random.Random(5)
    with tempfile.TemporaryDirectory() as name:
        hardware = kind(Path(name))
        try:
            text = show_text(hardware.spec())
            with Watch(Path(name), text, hardware.program, hardware.pass_fds) as watch:
                world = World(hardware.adapters, watch.output)
                hardware.begin()
                lit = [b'"house":"%d"' % (h + 1) for h in range(HOUSES)]

                def known() -> bool:
                    said = [line for _, line in world.lines() if b'"lamp":true' in line]
                    return all(any(h in line for line in said) for h in lit)

                world.run(known, 20.0, f"{hardware.name}: its houses known")
                settle_s = now() + 1.0
                world.run(lambda: now() > settle_s, 5.0, "settled")
                seconds = _dowsers(world, hardware, times, chance)
                watch.end()
        finally:
            hardware.end()
    return seconds


def _dowsers(world: World, hardware: Hardware, times: int, chance: random.Random) -> list[float]:
    """Every house's dowser opens and shuts so many times, each after the other was seen. Seconds from opening to alarm."""
    opened: dict[str, float] = {}
    seconds: list[float] = []
    left = dict.fromkeys([str(h + 1) for h in range(HOUSES)], times)

    def turn(house: str, is_open: bool) -> None:
        bit = len(SIGNALS) * (int(house) - 1) + DOWSER
        at_s = hardware.change(bit, is_open)
        if is_open:
            opened[house] = at_s

    def hear(at_s: float, line: bytes) -> None:
        if b'"kind":"alarm"' not in line:
            return
        alarm = json.loads(line)
        house = alarm["subject"]
        if alarm["code"] != "gate-heat":
            raise AssertionError(f"an alarm that has no place here: {line!r}")
        tripped = alarm["state"] == "unacknowledged"
        if tripped:
            seconds.append(at_s - opened.pop(house))
        else:
            left[house] -= 1
        if tripped or left[house]:
            # Evenly over a round of the slowest driver: it is not in step with what it is shown.
            world.at(now() + chance.uniform(*PAUSE_S), lambda: turn(house, not tripped))

    world.hear = hear
    for house in left:
        world.at(now() + chance.uniform(*PAUSE_S), lambda house=house: turn(house, is_open=True))  # type: ignore[misc]
    world.run(lambda: not any(left.values()), 20.0 + times * 1.0, f"{hardware.name}: dowsers")
    return seconds


def measure() -> Iterator[Row]:
    for kind in (OnSerial, OnGpio, OnRtu, OnTcp, OnStation):
        seconds = latencies(kind)
        name = f"contact to alarm, {kind.name}"
        yield Row(name=f"{name}, median", unit="ms", ours=parts(0.5, seconds, 5))
        yield Row(name=f"{name}, p99", unit="ms", ours=one(at(0.99, seconds)))


if __name__ == "__main__":
    run(measure)
