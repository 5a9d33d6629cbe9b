"""The MQTT driver keeps the contract of all drivers: a real broker, a real station, its hardware moved by hand."""

from __future__ import annotations

import asyncio
import threading
from pathlib import Path
from typing import Any, ClassVar

import pytest
from contract import WIRING, DriverContract, Rig
from mqtt_bench import Broker, Elsewhere, Wire, needs_mosquitto
from mqtt_hand import HandDriver

from drivers.driver import Driver, find
from drivers.mqtt import MqttDriver
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec
from interlock.station.file import StationFile, StationOptions
from interlock.station.serve import Station


class MqttRig(Rig):
    """A station behind the broker; the desk's way to the broker can be cut."""

    slack_s = 0.3
    bad_options: ClassVar[tuple[dict[str, Any], ...]] = (
        {"no_such_key": 1},
        {"station": None},
        {"station": "desk"},
        {"station": "north/+"},
        {"site": "#"},
        {"broker": ""},
        {"port": 0},
        {"user": "desk"},
        {"ca": "ca.crt"},
        {"broker": "192.0.2.1", "user": "desk", "password_file": "password"},
        {"tls": "no"},
    )

    def __init__(self, folder: Path) -> None:
        self.clock = SystemClock()
        self.broker = Broker(folder)
        self.wire = Wire(self.broker.port)
        self.hand = HandDriver(self.clock)
        self.folder = folder

    @property
    def driver(self) -> type[Driver]:
        return MqttDriver

    def spec(self, **options: Any) -> AdapterSpec:
        own = {"broker": "127.0.0.1", "port": self.wire.port, "tls": False, "station": "far"}
        return AdapterSpec("north", "mqtt", own | options, WIRING)

    async def start(self) -> None:
        self.broker.start()
        # aiomqtt connects in the loop's own pool, whose thread stays with the loop: it is there from the beginning.
        await asyncio.to_thread(int)
        self.far = Elsewhere()
        await self.far.do(self.wire.plug())
        options = StationOptions(broker="127.0.0.1", port=self.broker.port, tls=False, name="far")
        file = StationFile(options, (), self.folder / "far.journal")
        connected = threading.Event()

        async def serve() -> None:
            def say(line: str) -> None:
                if "connected" in line:
                    connected.set()

            await Station(file, SystemClock(), say, [(self.hand.spec, self.hand)]).run()

        self._station = self.far.start(serve())
        assert connected.wait(5.0)

    async def stop(self) -> None:
        await self.far.do(self.wire.cut())
        self.far.end()
        self.broker.stop()

    async def pass_s(self, seconds: float) -> None:
        await asyncio.sleep(seconds)

    def held(self) -> bool:
        return self.wire.held

    def contact(self, level: int, closed: bool) -> None:
        self.far.call(lambda: self.hand.contact(level, closed))

    def pulses(self, counter: int, n: int) -> None:
        self.far.call(lambda: self.hand.pulses(n))

    def arm(self, analog: int, raw: int) -> None:
        self.far.call(lambda: self.hand.arm(raw))

    def restart(self) -> None:
        self.far.call(self.hand.restart)

    def silence(self, on: bool) -> None:
        self.hand.silent = on

    def unplug(self) -> None:
        self.far.start(self.wire.cut()).result(2.0)

    def plug(self) -> None:
        self.far.start(self.wire.plug()).result(2.0)


# Real time and a broker for each test: too long for every run.
@pytest.mark.realtime
@pytest.mark.long
@needs_mosquitto
class TestMqttContract(DriverContract):
    def make_rig(self, tmp_path: Any) -> Rig:
        return MqttRig(tmp_path)


def test_it_is_found_by_its_entry_point() -> None:
    assert find("mqtt") is MqttDriver
