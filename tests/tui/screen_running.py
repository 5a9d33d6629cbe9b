"""A screen running under test, with a source that says what it is given and a clock that is moved by hand."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from textual.events import Key
from textual.message_pump import MessagePump
from textual.pilot import Pilot

from interlock.watch.state import Hello, Layout, State
from tui.app import LonglaceApp
from tui.canvas import Canvas
from tui.draw.runs import plain
from tui.example.moments import MOMENTS
from tui.example.show import layout
from tui.example.source import Scripted
from tui.look.glyphs import FULL
from tui.panel import Panel

CHARACTERS = {"space": " ", "minus": "-", "plus": "+"}


class Hands:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 1000.0

    def now_s(self) -> float:
        return self.now

    def wall_s(self) -> float:
        return self.now

    async def sleep_until(self, at_s: float) -> None:
        raise NotImplementedError


class Running:
    """An app under test with its source and its clock."""

    def __init__(self, app: LonglaceApp, source: Scripted, clock: Hands, pilot: Pilot[object]) -> None:
        self.app, self.source, self.clock, self.pilot = app, source, clock, pilot

    async def press(self, *keys: str) -> None:
        """Keys as the terminal's driver gives them; waits by messages done, not by time."""
        for key in keys:
            self.app.post_message(Key(key, key if len(key) == 1 else CHARACTERS.get(key)))
            await self.settle()

    async def settle(self) -> None:
        """Until every widget has done what it was told."""
        for _ in range(3):
            await self._done(self.app)
            for widget in self.app.screen.walk_children(with_self=True):
                await self._done(widget)

    async def _done(self, pump: MessagePump) -> None:
        if self.app.return_value is not None or not pump.is_running:
            return
        done = asyncio.Event()
        pump.call_later(done.set)
        await asyncio.wait_for(done.wait(), 5)

    def text(self, canvas: str = "body") -> str:
        return plain(self.app.query_one(f"#{canvas}", Canvas).block)

    def sent(self) -> list[dict[str, object]]:
        """What was sent since the last time, without who did it."""
        given = [{k: v for k, v in a.items() if k not in ("by", "booth")} for a in self.source.sent]
        self.source.sent.clear()
        return given

    @property
    def asking(self) -> bool:
        return self.app.query_one(Panel).question is not None


FAULTS = (("house 4 trips", {"house": "4", "what": "trip"}), ("feed platter stops", {"what": "feed"}))


@asynccontextmanager
async def running(
    moment: str | State = "well",
    *,
    rehearsal: bool = False,
    size: tuple[int, int] = (120, 30),
    lay: Layout | None = None,
) -> AsyncIterator[Running]:
    lay = lay or layout(6, rehearsal=rehearsal)
    state = moment if isinstance(moment, State) else MOMENTS[moment](lay)
    source, clock = Scripted(Hello(lay, state)), Hands()
    app = LonglaceApp(source, clock=clock, by="A. Blyth", booth="north", faults=FAULTS, glyphs=FULL)
    async with app.run_test(size=size) as pilot:
        run = Running(app, source, clock, pilot)
        await run.settle()
        app.tick()
        clock.now += 1.0  # long enough on the screen to have been seen
        yield run
