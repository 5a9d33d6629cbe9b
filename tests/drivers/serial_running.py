"""The serial driver at work in real time, for the tests: on these options, and what it has said."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from drivers.serial_line import SerialDriver
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec, CounterWire, Counts, Presence, Reading, Wiring

WIRING = Wiring(levels={0: "4.run"}, counters={0: CounterWire("4.frames")})
CLOCK = SystemClock()


class Running:
    """A driver at work on these options, and what it has said."""

    def __init__(self, **options: Any) -> None:
        self.said: list[Reading] = []
        self.driver = SerialDriver(AdapterSpec("north", "serial", options, WIRING), CLOCK)

    async def __aenter__(self) -> Running:
        self.task = asyncio.create_task(self.driver.run(self.said.append))
        return self

    async def __aexit__(self, *_: object) -> None:
        self.task.cancel()
        async with asyncio.timeout(1.0):
            await asyncio.gather(self.task, return_exceptions=True)
        assert self.task.cancelled(), "it ended by itself"

    async def until(self, what: Callable[[], bool], within_s: float = 3.0) -> None:
        end_s = CLOCK.now_s() + within_s
        while not what():
            assert CLOCK.now_s() < end_s, self.said[-5:]
            await asyncio.sleep(0.01)

    def states(self) -> list[str]:
        return [p.state for p in self.said if isinstance(p, Presence)]

    def counted(self) -> bool:
        return any(isinstance(r, Counts) for r in self.said)
