"""Desk, broker and far booth on computers of their own, with cables between them that tests make bad."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import ExitStack, asynccontextmanager, suppress
from pathlib import Path

from desk_process import NORTH, WatchProcess
from doc_broker import DocBroker
from namespaces import Cable, Computer
from serial_double import Adapter, Pty

from interlock.clock import SystemClock
from interlock.incident.replay import readings_of
from interlock.signals import Reading

PORT = 8883
STATION = (
    """
[station]
name = "north"
broker = "10.77.2.1"
port = 8883
{link}
[[adapter]]
name = "north"
driver = "serial"
port = "{pty}"
"""
    + NORTH
)


class World:
    """All of it, on three computers; the board is in our hands."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.clock = folder, SystemClock()
        self.board = Adapter(self.clock.now_s)
        self.pulses_each_s = 0.0
        self.watch: WatchProcess
        self.near: Cable
        self.far: Cable
        self.station: subprocess.Popen[bytes]

    def station_says(self) -> str:
        return (self.folder / "station.txt").read_text(encoding="utf-8")

    async def until(self, what: Callable[[], bool], within_s: float, why: str) -> float:
        """How long it took."""
        began_s = self.clock.now_s()
        while not what():
            assert self.clock.now_s() - began_s < within_s, f"{why}; {self.station_says()[-600:]}"
            await asyncio.sleep(0.02)
        return self.clock.now_s() - began_s

    async def speak(self) -> None:
        """As the page on the line says, and the shaft turns."""
        self.board.lv()
        owed, beat = 0.0, 0
        while True:
            owed += self.pulses_each_s * 0.05
            self.board.pulses(0, int(owed))
            owed -= int(owed)
            if beat % 2 == 0:
                self.board.ct()
                self.board.an()
            if beat % 4 == 1:
                self.board.lv()
            beat += 1
            await asyncio.sleep(0.05)

    def house(self) -> dict[str, object]:
        return self.watch.lines("house", house="4")[-1]

    def adapter(self) -> dict[str, object]:
        return self.watch.lines("adapter")[-1]

    def told(self) -> list[Reading]:
        """What the record of the ended watch has of readings."""
        [record] = (self.folder / "desk" / "data_home").rglob("*.record")
        return list(readings_of(str(record)))

    def alarms(self) -> set[str]:
        """Codes that were raised so far."""
        return {a["code"] for a in self.watch.lines("alarm") if a["state"] != "normal"}


@asynccontextmanager
async def world(folder: Path) -> AsyncIterator[World]:
    """Up, and the desk told of every input."""
    w = World(folder)
    pty = Pty(folder / "ttyFAR", w.board)
    pty.plug()
    speaking = asyncio.create_task(w.speak(), name="board")
    with ExitStack() as stack:
        desk, middle, far = (stack.enter_context(Computer(n)) for n in ("desk", "mid", "far"))
        w.near = stack.enter_context(Cable(middle, desk, 1, seed=1))
        w.far = stack.enter_context(Cable(middle, far, 2, seed=2))
        broker = DocBroker(folder, ("10.77.1.1", "10.77.2.1"), at="0.0.0.0", port=PORT, inside=middle.inside)
        broker.start()
        (folder / "far.toml").write_text(STATION.format(pty=pty.path, link=broker.lines("north")))
        with (folder / "station.txt").open("wb") as out:
            w.station = subprocess.Popen(  # noqa: ASYNC220
                [*far.inside, sys.executable, "-m", "interlock.cli", "station", str(folder / "far.toml")],
                stdout=out,
                stderr=out,
            )
        w.watch = WatchProcess(
            folder / "desk", PORT, broker="10.77.1.1", link=broker.lines("desk"), wrap=desk.inside
        )
        w.watch.start()
        try:
            await w.watch.until(20.0, "adapter", state="up")
            await w.until(lambda: w.house()["run"] is False, 3.0, "the inputs are not known")
            yield w
        finally:
            w.watch.end()
            w.station.kill()
            w.station.wait()
            broker.stop()
            speaking.cancel()
            with suppress(asyncio.CancelledError):
                await speaking
            pty.unplug()
