"""Faults of the network between a booth and the desk, by hand, with a real broker: what the operator is told."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from mqtt_bench import Broker, needs_mosquitto
from station_booth import booth

from drivers.mqtt_link import together

pytestmark = [pytest.mark.realtime, pytest.mark.long, needs_mosquitto]  # ten brokers: too long for every run


async def test_a_broker_that_restarts_is_said_and_loses_nothing(tmp_path: Path) -> None:
    broker = Broker(tmp_path)
    straight = {"port": broker.port}
    async with booth(tmp_path, broker, station=straight, desk=straight) as b:
        out_s = b.clock.now_s()
        broker.stop()
        await b.until(lambda: b.state() == "gone", 0.5, "that the broker is away was not said")
        assert b.presences()[-1].at_s - out_s <= 0.5
        assert f":{broker.port}" in b.presences()[-1].text
        b.hand.contact(0, True)
        b.hand.pulses(10)
        turned_s = b.clock.now_s()
        await asyncio.sleep(0.3)
        b.hand.contact(0, False)
        stopped_s = b.clock.now_s()
        broker.start()
        await b.until(lambda: bool(b.turned(True)) and b.state() == "up", 4.0, "not told afterwards")
        first = b.turned(True)[0]
        assert first.fact_s == pytest.approx(turned_s, abs=0.03)
        assert first.at_s > stopped_s, "told afterwards"
        await b.until(lambda: b.turned(False)[-1].fact_s > stopped_s - 0.03, 0.5, "and that it stopped")
        assert b.frames() == sorted(b.frames())
        assert b.frames()[-1] == 5.0
        assert "restarted" not in [p.state for p in b.presences()]
        assert b.presences()[-1].lost_lines == 0


async def test_a_network_that_swallows_everything_is_known_within_two_seconds(tmp_path: Path) -> None:
    async with booth(tmp_path, Broker(tmp_path)) as b:
        dead_s = b.clock.now_s()
        b.far_wire.alive.clear()
        await b.until(lambda: b.state() == "gone", 2.0, "a hung station was not known in time")
        assert b.presences()[-1].at_s - dead_s <= 2.0
        assert "hangs, or is cut off" in b.presences()[-1].text
        b.hand.pulses(8)
        await b.until(lambda: any("ALONE" in line for line in b.lines), 2.6, "the station does not know it")
        b.far_wire.alive.set()
        await b.until(lambda: b.state() == "up" and b.frames()[-1] == 4.0, 3.0, "it did not come back")
        await b.until(lambda: b.lines[-1] == "a desk listens", 1.0, "the station does not know it")


async def test_a_station_that_is_ended_is_gone_at_once_and_goes_on_where_it_was(tmp_path: Path) -> None:
    async with booth(tmp_path, Broker(tmp_path)) as b:
        ended_s = b.clock.now_s()
        await b.end("station")
        await b.until(lambda: b.state() == "gone", 0.5, "its end was not said")
        assert "station north is gone" in b.presences()[-1].text
        assert b.presences()[-1].at_s - ended_s <= 0.5
        b.hand.contact(0, True)
        b.start_station()
        await b.until(lambda: b.state() == "up" and bool(b.turned(True)), 2.0, "it did not come back")
        assert b.presences()[-1].lost_lines == 0


async def test_one_that_can_send_no_more_does_not_wait_on_a_connection_that_says_nothing() -> None:
    heard = asyncio.Event()

    async def hear() -> None:
        try:
            await asyncio.Event().wait()
        finally:
            heard.set()

    async def send() -> None:
        raise OSError("it did not leave in time")

    with pytest.raises(OSError, match="in time"):
        await together(hear(), send())
    assert heard.is_set()
