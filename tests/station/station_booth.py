"""A far booth and a desk, each on a wire of its own to a real broker."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

from contract import WIRING
from mqtt_bench import Broker, Wire
from mqtt_hand import HandDriver

from drivers.mqtt import MqttDriver
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec, Contacts, Counts, Presence, Reading
from interlock.station.file import StationFile, StationOptions
from interlock.station.serve import Station


class Booth:
    """``station`` and ``desk``: further options of each end, which then goes to the broker by itself."""

    def __init__(self, folder: Path, broker: Broker, **own: dict[str, Any]) -> None:
        self.folder, self.broker, self._own = folder, broker, own
        self.clock = SystemClock()
        self.hand = HandDriver(self.clock)
        self.far_wire, self.desk_wire = Wire(broker.port), Wire(broker.port)
        self.said: list[Reading] = []
        self.lines: list[str] = []
        self._tasks: dict[str, asyncio.Task[None]] = {}

    def start_station(self) -> None:
        plain = {"broker": "127.0.0.1", "port": self.far_wire.port, "tls": False, "name": "north"}
        options = StationOptions.model_validate(plain | self._own.get("station", {}))
        file = StationFile(options, (), self.folder / "north.journal")
        station = Station(file, self.clock, self.lines.append, [(self.hand.spec, self.hand)])
        self._tasks["station"] = asyncio.create_task(station.run(), name="station")

    def start_desk(self) -> None:
        plain = {"broker": "127.0.0.1", "port": self.desk_wire.port, "tls": False, "station": "north"}
        driver = MqttDriver(
            AdapterSpec("north", "mqtt", plain | self._own.get("desk", {}), WIRING), self.clock
        )
        self._tasks["desk"] = asyncio.create_task(driver.run(self.said.append), name="desk")

    async def end(self, who: str) -> None:
        task = self._tasks.pop(who)
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task

    async def until(self, what: Callable[[], bool], within_s: float, why: str) -> None:
        end_s = self.clock.now_s() + within_s
        while not what():
            for task in self._tasks.values():
                assert not task.done(), task
            assert self.clock.now_s() < end_s, f"{why}; {self.lines}; {self.said[-6:]}"
            await asyncio.sleep(0.02)

    def presences(self) -> list[Presence]:
        return [r for r in self.said if isinstance(r, Presence)]

    def state(self) -> str:
        return self.presences()[-1].state if self.presences() else ""

    def turned(self, closed: bool) -> list[Contacts]:
        return [r for r in self.said if isinstance(r, Contacts) and ("4.run", closed) in r.values]

    def frames(self) -> list[float]:
        return [v[1] for r in self.said if isinstance(r, Counts) for v in r.values]


@contextlib.asynccontextmanager
async def booth(folder: Path, broker: Broker, **own: dict[str, Any]) -> AsyncIterator[Booth]:
    """All of it at work, and the desk told what the booth's inputs are."""
    broker.start()
    made = Booth(folder, broker, **own)
    await made.far_wire.plug()
    await made.desk_wire.plug()
    try:
        made.start_station()
        made.start_desk()
        await made.until(lambda: made.state() == "up" and bool(made.frames()), 3.0, "not taken up")
        yield made
    finally:
        for who in list(made._tasks):
            await made.end(who)
        await made.far_wire.cut()
        await made.desk_wire.cut()
        broker.stop()
