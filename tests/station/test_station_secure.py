"""TLS, passwords and the ACL file of docs/several-booths.md, as they stand there, on a real broker."""

from __future__ import annotations

import asyncio
import contextlib
import re
from pathlib import Path

import pytest
from desk_rig_show import two_gates
from doc_broker import DocBroker, needs_tools
from mqtt_bench import needs_mosquitto
from station_booth import booth

from drivers.mqtt import MqttDriver
from drivers.mqtt_options import MqttOptions
from interlock.bus import Bus
from interlock.clock import SystemClock
from interlock.service.folding import Folding
from interlock.service.publish import Publisher
from interlock.signals import AdapterSpec, CounterWire, Presence, Reading, Wiring
from interlock.watch.inputs import Tick

pytestmark = [pytest.mark.realtime, needs_mosquitto, needs_tools]


async def test_a_station_writes_only_its_own_topics_and_a_viewer_nothing(tmp_path: Path) -> None:
    broker = DocBroker(tmp_path)
    async with booth(tmp_path, broker, station=broker.of("north"), desk=broker.of("desk")) as b:
        assert b.state() == "up", "over TLS, with the page's own files"
        forged = [
            ("south", "longlace/booth/north/north/reading"),
            ("south", "longlace/booth/north/status"),
            ("south", "longlace/booth/desk/north/north"),
            ("south", "longlace/elsewhere/south/status"),
            ("viewer", "longlace/booth/north/north/reading"),
            ("viewer", "longlace/booth/viewer/status"),
            ("viewer", "longlace/booth/desk/north/north"),
        ]
        async with broker.client("desk") as desk, broker.client("viewer") as viewer:
            await desk.subscribe("longlace/#")
            await viewer.subscribe("longlace/#")
            for user in ("south", "viewer"):
                async with broker.client(user) as client:
                    for who, topic in forged:
                        if who == user:
                            await client.publish(topic, b"forged", qos=1)
            async with broker.client("south") as south:
                await south.publish("longlace/booth/south/status", b"own", qos=1)
            seen: dict[str, list[tuple[str, object]]] = {"desk": [], "viewer": []}
            for name, client in (("desk", desk), ("viewer", viewer)):
                async with asyncio.timeout(3.0):
                    async for message in client.messages:
                        seen[name].append((str(message.topic), message.payload))
                        if message.payload == b"own":  # sent last: whatever was let through came before it
                            break
        assert not [x for found in seen.values() for x in found if x[1] == b"forged"]
        assert any(topic.startswith("longlace/booth/north/") for topic, _ in seen["viewer"]), "it may look"
        assert b.presences()[-1].bad_lines == 0
        assert b.state() == "up"


@pytest.mark.long
async def test_a_booths_sheet_is_for_that_booth_and_alarms_are_for_whoever_may_look(tmp_path: Path) -> None:
    broker = DocBroker(tmp_path)
    broker.start()
    show, clock = two_gates(), SystemClock()
    folding = Folding(show, clock, Bus(clock))
    folding.start()
    options = MqttOptions.model_validate({"broker": "127.0.0.1", "station": "north"} | broker.of("desk"))
    publisher = Publisher(options, {"north": frozenset({"1"})}, folding, clock)
    task = asyncio.create_task(publisher.run())
    try:
        await asyncio.sleep(2.5)  # nobody says a word: the adapter is lost
        folding.fold(Tick(clock.now_s()))
        await asyncio.sleep(1.0)
        seen: dict[str, set[str]] = {}
        for user in ("north", "south", "viewer"):
            async with broker.client(user) as client:
                await client.subscribe("longlace/#")
                seen[user] = set()
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(0.5):
                        async for message in client.messages:
                            if message.retain:
                                seen[user].add(str(message.topic).removeprefix("longlace/booth/desk/"))
        assert seen["north"] == {"north/booth/sheet"}
        assert seen["south"] == set()
        assert seen["viewer"] >= {"status", "state", "north/booth/sheet", "alarm/adapter-lost/north"}
    finally:
        task.cancel()
        await asyncio.wait({task})
        broker.stop()


# paho leaves the socket of a failed handshake to the interpreter, which closes it with this warning.
@pytest.mark.filterwarnings("ignore:unclosed <ssl.SSLSocket:ResourceWarning")
@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"user": "north"}, "not authori|bad user"),
        ({"ca": None}, "certificate verify failed"),
        ({"password_file": "/nowhere/password"}, "password_file /nowhere/password cannot be read"),
    ],
)
async def test_what_is_wrong_with_the_way_to_the_broker_is_said(
    tmp_path: Path, wrong: dict[str, object], says: str
) -> None:
    broker = DocBroker(tmp_path)
    broker.start()
    said: list[Reading] = []
    options = {"broker": "127.0.0.1", "station": "north"} | broker.of("desk") | wrong
    spec = AdapterSpec("north", "mqtt", options, Wiring(counters={0: CounterWire("4.frames")}))
    task = asyncio.create_task(MqttDriver(spec, SystemClock()).run(said.append))
    try:
        async with asyncio.timeout(3.0):
            while not said:  # noqa: ASYNC110
                await asyncio.sleep(0.02)
    finally:
        task.cancel()
        await asyncio.wait({task})
        broker.stop()
    assert isinstance(said[0], Presence)
    assert said[0].state == "gone"
    assert re.search(says, said[0].text, re.IGNORECASE), said[0].text
