"""Faults by hand between a far booth and the desk, on a live desk: what the operator reads, and that nothing false follows."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from subprocess import Popen

import pytest
from desk_process import NORTH, WatchProcess
from hand_rows import by_hand
from mqtt_bench import Broker, needs_mosquitto
from serial_double import Adapter, Pty

from interlock.clock import SystemClock

pytestmark = [pytest.mark.realtime, pytest.mark.long, needs_mosquitto]
FAR = (
    """
[station]
name = "north"
broker = "127.0.0.1"
port = {port}
tls = false
[[adapter]]
name = "north"
driver = "serial"
port = "{pty}"
"""
    + NORTH
)


class Far:
    """A far booth that runs, and the desk."""

    def __init__(self, folder: Path, broker: Broker) -> None:
        self.folder, self.broker, self.clock = folder, broker, SystemClock()
        self.board = Adapter(self.clock.now_s)
        self.turns = False
        (folder / "far.toml").write_text(FAR.format(port=broker.port, pty=folder / "ttyFAR"))
        self.watch = WatchProcess(folder / "desk", broker.port, start_in_s=5.0)

    async def speak(self) -> None:
        began_s, before = None, 0
        for beat in range(10**9):
            if self.turns:
                began_s = self.clock.now_s() if began_s is None else began_s
                run_s = self.clock.now_s() - began_s
                ran = 24.0 * (run_s * run_s / 2 if run_s < 1.0 else run_s - 0.5)
                self.board.pulses(0, int(2 * ran) - before)
                before = int(2 * ran)
            if beat % 2 == 0:
                self.board.ct()
                self.board.an()
            else:
                self.board.lv()
            await asyncio.sleep(0.05)

    async def reads(self, words: str, within_s: float) -> str:
        async with asyncio.timeout(within_s):
            while not (found := [s for s in self.watch.sentences() if words in s]):  # noqa: ASYNC110 - another process
                await asyncio.sleep(0.05)
        return found[0]

    def raised(self) -> list[str]:
        return [a["code"] for a in self.watch.lines("alarm", state="unacknowledged")]


@asynccontextmanager
async def far(folder: Path) -> AsyncIterator[Far]:
    broker = Broker(folder)
    broker.start()
    made = Far(folder, broker)
    pty = Pty(folder / "ttyFAR", made.board)
    pty.plug()
    speaking = asyncio.create_task(made.speak())
    with (folder / "station.txt").open("wb") as out:
        station = Popen(  # noqa: ASYNC220 - it is there at once
            [sys.executable, "-m", "interlock.cli", "station", str(folder / "far.toml")], stdout=out
        )
    made.watch.start()
    try:
        await made.watch.until(15.0, "house", house="4", run=False)
        made.turns = True
        made.board.contact(0, True)
        await made.watch.until(5.0, "show", phase="starting")
        await asyncio.sleep(4.0)
        yield made
    finally:
        made.watch.end()
        station.kill()
        station.wait()
        speaking.cancel()
        with suppress(asyncio.CancelledError):
            await speaking
        pty.unplug()
        broker.stop()


@by_hand("restart the broker in mid-show")
async def test_a_broker_that_restarts_is_said_and_costs_nothing(tmp_path: Path) -> None:
    async with far(tmp_path) as f:
        assert f.raised() == []
        f.broker.stop()
        said = await f.reads("adapter north is silent", 1.5)
        assert f"broker 127.0.0.1:{f.broker.port}" in said
        await asyncio.sleep(0.3)
        f.broker.start()
        await f.reads("adapter north speaks", 5.0)
        await f.watch.until(3.0, "house", house="4", run=True)
        await asyncio.sleep(3.0)
        assert set(f.raised()) <= {"adapter-stale", "adapter-lost"}, "no stop, no restart, no lost count"
        house = f.watch.lines("house", house="4")[-1]
        assert house["run"] is True
        truly = f.board.count[0][0] / 2 - 3200.0
        assert house["frame"] == pytest.approx(truly, abs=30.0), "where the film is, but for the second since"
        assert f.watch.lines("adapter")[-1]["lost_lines"] == 0


@by_hand("take the broker away for five seconds")
async def test_a_broker_that_is_away_for_five_seconds_is_an_adapter_lost_and_found(tmp_path: Path) -> None:
    async with far(tmp_path) as f:
        f.broker.stop()
        assert "high alarm" in await f.reads("alarm adapter-lost on north (first-out)", 4.0)
        assert "nobody knows" in await f.reads("house 4: leader; turns or not", 1.0)
        await asyncio.sleep(3.0)
        assert "ALONE" in (tmp_path / "station.txt").read_text()
        f.broker.start()
        await f.reads("alarm adapter-lost on north: gone, not acknowledged", 6.0)
        await asyncio.sleep(3.0)
        assert (tmp_path / "station.txt").read_text().splitlines()[-1].endswith("a desk listens")
        assert f.watch.lines("house", house="4")[-1]["run"] is True
        assert set(f.raised()) <= {"adapter-stale", "adapter-lost"}
        assert f.watch.lines("adapter")[-1]["lost_lines"] == 0
