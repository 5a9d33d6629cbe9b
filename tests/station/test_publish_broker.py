"""What the desk says on a real broker, for other programs: as they find it, whatever becomes of desk and broker."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import time
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import aiomqtt
import pytest
from desk_process import WatchProcess, retained
from mqtt_bench import Broker, needs_mosquitto

from interlock.watch.state import AlarmLine, State, decode_line

pytestmark = [pytest.mark.realtime, pytest.mark.long, needs_mosquitto]
LOST = "alarm/adapter-lost/north"


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    made = Broker(tmp_path)
    made.start()
    yield made
    made.stop()


@pytest.fixture
async def watch(tmp_path: Path, broker: Broker) -> AsyncIterator[WatchProcess]:
    """A desk that nobody answers: its far booth's adapter is lost from the beginning."""
    made = WatchProcess(tmp_path / "desk", broker.port)
    made.start()
    try:
        await made.until(15.0, "alarm", code="adapter-lost", state="unacknowledged")
        await asyncio.sleep(0.8)
        yield made
    finally:
        made.end(signal.SIGKILL)


def read(found: dict[str, bytes], topic: str) -> Any:
    assert topic in found, sorted(found)
    return json.loads(found[topic])


async def test_whoever_comes_finds_state_and_alarms_and_sees_them_change_and_go(
    broker: Broker, watch: WatchProcess
) -> None:
    found = await retained(broker.port)
    assert read(found, "status")["status"] == "up"
    state = read(found, "state")
    assert set(state) == set(State.__struct_fields__), "the same as on the screens"
    assert [h["house"] for h in state["houses"]] == ["4", "3"]
    alarm = decode_line(found[LOST])
    assert isinstance(alarm, AlarmLine)
    assert (alarm.code, alarm.subject, alarm.state) == ("adapter-lost", "north", "unacknowledged")
    assert state["alarms"][0]["code"] == "adapter-lost"
    sheet = read(found, "north/booth/sheet")
    assert [h["house"] for h in sheet["houses"]] == ["4", "3"], (
        "a house without wires of its own is in that booth too"
    )
    watch.say(action="ack", code="adapter-lost", subject="north")
    await watch.until(3.0, "alarm", code="adapter-lost", state="acknowledged")
    await asyncio.sleep(0.6)
    assert read(await retained(broker.port), LOST)["state"] == "acknowledged"
    assert watch.end() == 130
    after = await retained(broker.port)
    assert read(after, "status")["status"] == "gone"
    assert LOST not in after, "an ended desk alarms nobody"
    assert read(after, "north/booth/sheet")["watching"] is False


async def test_a_desk_that_is_killed_is_gone_and_the_next_one_clears_what_it_left(
    broker: Broker, watch: WatchProcess
) -> None:
    async with aiomqtt.Client("127.0.0.1", broker.port, protocol=aiomqtt.ProtocolVersion.V5) as stranger:
        await stranger.publish("longlace/booth/desk/alarm/run-lost/4", b'{"code":"run-lost"}', retain=True)
    watch.end(signal.SIGKILL)
    await asyncio.sleep(0.3)
    found = await retained(broker.port)
    assert read(found, "status")["status"] == "gone", "its last will"
    assert {LOST, "alarm/run-lost/4"} <= set(found)
    watch.start()
    async with asyncio.timeout(10.0):
        while "alarm/run-lost/4" in (found := await retained(broker.port, for_s=0.3)):
            pass
    assert read(found, "status")["status"] == "up"


async def test_a_broker_that_hangs_or_is_gone_holds_up_no_line_and_finds_all_again(
    broker: Broker, watch: WatchProcess
) -> None:
    assert broker.pid is not None
    os.kill(broker.pid, signal.SIGSTOP)
    before = len(watch.lines("house", house="4"))
    await asyncio.sleep(6.0)
    os.kill(broker.pid, signal.SIGCONT)
    assert 5 <= len(watch.lines("house", house="4")) - before <= 8, "one a second, as ever"
    broker.stop()
    before = len(watch.lines("house", house="4"))
    await asyncio.sleep(3.0)
    assert 2 <= len(watch.lines("house", house="4")) - before <= 5
    broker.start()  # with nothing retained
    async with asyncio.timeout(6.0):
        while not {"status", "state", LOST} <= set(await retained(broker.port, for_s=0.3)):
            pass


async def test_a_watch_ends_in_order_although_its_broker_hangs(broker: Broker, watch: WatchProcess) -> None:
    assert broker.pid is not None
    os.kill(broker.pid, signal.SIGSTOP)
    await asyncio.sleep(0.3)
    began_s = time.monotonic()
    try:
        assert watch.end() == 130, "nothing is in the way of its end"
    finally:
        os.kill(broker.pid, signal.SIGCONT)
    assert time.monotonic() - began_s < 7.0


async def test_a_show_may_keep_its_state_to_itself(tmp_path: Path, broker: Broker) -> None:
    watch = WatchProcess(tmp_path / "desk", broker.port, more="publish = false")
    watch.start()
    try:
        await watch.until(15.0, "alarm", code="adapter-lost", state="unacknowledged")
        await asyncio.sleep(1.5)
        assert set(await retained(broker.port)) == {"north/booth/sheet"}, (
            "the booth's own sheet it has all the same"
        )
    finally:
        watch.end()
