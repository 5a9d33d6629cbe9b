"""A station's parts on a clock moved by hand, and a sheet of the desk's, for the tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
from mqtt_line import FarClock

from drivers.mqtt_sheet import Sheet, SheetCue, SheetHouse
from interlock.clock import VirtualClock
from interlock.signals import Contacts
from interlock.station.alone import Alone
from interlock.station.board import WIDTH, board
from interlock.station.journal import Journal
from interlock.station.lone import Lone
from interlock.station.stream import Stream

OF = "booth/north"


def sheet(**changed: Any) -> Sheet:
    cues = (
        SheetCue("strike-lamp", 10.0, 25.0, "coming"),
        SheetCue("open-dowser", 54.0, 69.0, "coming"),
        SheetCue("masking wide", 80.0, None, "coming"),
        SheetCue("motor-off", 900.0, 915.0, "coming"),
    )
    made = Sheet(
        of=OF,
        desk="one",
        wall_s=1_790_000_000.0,
        title="Two gates",
        timezone="Etc/UTC",
        phase="running",
        plan_s=-15.0,
        standing=False,
        watching=True,
        houses=(SheetHouse("4", "House 4", cues),),
    )
    return msgspec.structs.replace(made, **changed)


class Booth:
    """A station's parts on a clock moved by hand."""

    def __init__(self, folder: Path, now_s: float = 100.0) -> None:
        self.hand = VirtualClock(now_s)
        self.clock = FarClock(self.hand, 0.0)
        self.journal = Journal(folder / "j", self.clock)
        self.lone = Lone(OF, self.journal, self.clock)
        self.stream = Stream("booth", "north", "north", self.journal, self.clock)
        self.lines: list[str] = []
        self.alone = Alone({"north": self.stream}, self.lone, self.journal, self.clock, self.lines.append)
        self.known: dict[str, bool] = {"4.run": True, "4.lamp": False}

    async def wait(self, seconds: float, *, asked: bool = False) -> None:
        for _ in range(round(seconds / 0.25)):
            await self.hand.advance_to(self.hand.now_s() + 0.25)
            now_s = self.clock.now_s()
            self.stream.add(Contacts(now_s, now_s, "north", tuple(self.known.items())))
            if asked:
                self.stream.asked_s = now_s
            self.alone.look()

    def todo(self) -> list[tuple[str, str]]:
        return [(r.do, r.state) for r in self.alone.rows()]

    def screen(self, height: int = 24) -> str:
        since_s = self.alone.since_s
        lines = board(
            "Station north of booth",
            self.lone,
            alone_s=None if since_s is None else self.clock.now_s() - since_s,
            rows=self.alone.rows(),
            contacts=self.alone.contacts(),
            frames=self.alone.frames(),
            adapters=["north"],
            said=[],
            height=height,
        )
        assert len(lines) <= height
        assert all(len(text) <= WIDTH for text, _ in lines)
        return "\n".join(text for text, _ in lines)
