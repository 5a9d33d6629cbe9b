"""The hardware that the contract suite moves by hand, and a driver at work on it."""

from __future__ import annotations

import abc
import asyncio
from collections.abc import Callable
from typing import Any, ClassVar

import pytest

from drivers.driver import Driver
from interlock.clock import Clock
from interlock.signals import (
    AdapterSpec,
    AnalogWire,
    Contacts,
    CounterWire,
    Counts,
    Presence,
    Reading,
    Wiring,
)

WIRING = Wiring(
    levels={0: "4.run", 1: "4.lamp", 2: "!4.dowser"},
    counters={0: CounterWire("4.frames", 0.5)},
    analogs={0: AnalogWire("4>3.arm", 310, 3800)},
)
ALL = frozenset({"contact", "count", "arm", "restart", "silence", "unplug"})


class Rig(abc.ABC):
    """One adapter with WIRING, inputs open, counter at 0, arm at 2055: powered up, plugged in and speaking by start()."""

    can: ClassVar[frozenset[str]] = ALL
    bad_options: ClassVar[tuple[dict[str, Any], ...]] = ({"no_such_key": 1},)
    """Options, each of which makes no sense (those of ``spec`` aside)."""
    slack_s: ClassVar[float] = 0.0
    """How late the rig itself may be in moving what it is told to (a busy computer, real time)."""
    tells_s: ClassVar[float] = 0.3
    """A fact is told within this."""
    clock: Clock

    @property
    @abc.abstractmethod
    def driver(self) -> type[Driver]:
        """The class under test."""

    @abc.abstractmethod
    def spec(self, **options: Any) -> AdapterSpec:
        """The adapter called ``north``; options given take the place of the rig's own."""

    @abc.abstractmethod
    async def start(self) -> None:
        """Bring the hardware to life."""

    @abc.abstractmethod
    async def stop(self) -> None:
        """Take it away, whatever state it is in."""

    @abc.abstractmethod
    async def pass_s(self, seconds: float) -> None:
        """Let time pass."""

    @abc.abstractmethod
    def held(self) -> bool:
        """Whether the driver holds the hardware (its port, connection, lines) now."""

    def contact(self, level: int, closed: bool) -> None:
        """The contact of a level input moves now."""
        raise NotImplementedError

    def pulses(self, counter: int, n: int) -> None:
        """So many pulses at once, now."""
        raise NotImplementedError

    def arm(self, analog: int, raw: int) -> None:
        """The arm stands at this raw value from now on."""
        raise NotImplementedError

    def restart(self) -> None:
        """The adapter loses its power for an instant: counts and its clock begin at 0."""
        raise NotImplementedError

    def silence(self, on: bool) -> None:
        """The adapter says nothing, and goes on counting; or speaks again."""
        raise NotImplementedError

    def unplug(self) -> None:
        """The device is pulled out."""
        raise NotImplementedError

    def plug(self) -> None:
        """And plugged in again; the adapter had power all the time."""
        raise NotImplementedError


class Run:
    """A driver at work, and what it has said."""

    def __init__(self, rig: Rig, driver: Driver) -> None:
        self.rig = rig
        self.said: list[Reading] = []
        self.task = asyncio.ensure_future(driver.run(self.said.append))

    async def until(self, what: Callable[[], bool], within_s: float, why: str) -> None:
        """Time passes until it is so, or has not become so in time."""
        end_s = self.rig.clock.now_s() + within_s + self.rig.slack_s
        while not what():
            assert not self.task.done(), f"run ended by itself: {self.task}"
            assert self.rig.clock.now_s() < end_s, f"{why}; said: {self.said[-8:]}"
            await self.rig.pass_s(0.02)

    async def until_taken_up(self) -> None:
        await self.until(
            lambda: {"4.run", "4.frames"} <= self.signals(), 1.0, "the present state was not taken up"
        )

    async def cancel(self) -> None:
        self.task.cancel()
        with pytest.raises(asyncio.CancelledError):
            async with asyncio.timeout(1.0):
                await self.task

    def of(self, kind: type[Reading]) -> list[Any]:
        return [r for r in self.said if isinstance(r, kind)]

    def signals(self) -> set[str]:
        return {v[0] for r in self.said if not isinstance(r, Presence) for v in r.values}

    def states(self) -> list[str]:
        return [p.state for p in self.of(Presence)]

    def contact(self, signal: str) -> list[tuple[float, bool]]:
        """(fact_s, state) of a contact, in order of what was said."""
        return [(r.fact_s, v) for r in self.of(Contacts) for s, v in r.values if s == signal]

    def frames(self) -> list[float]:
        return [v[1] for r in self.of(Counts) for v in r.values if v[0] == "4.frames"]

    def check_stamps(self) -> None:
        """What holds of everything that is ever said."""
        now_s = self.rig.clock.now_s()
        last_s = float("-inf")
        for r in self.said:
            assert r.adapter == "north"
            assert r.fact_s <= r.at_s <= now_s, f"true after it was received, or received in the future: {r}"
            assert r.at_s >= last_s, f"received before what was said before it: {r}"
            last_s = r.at_s
            if isinstance(r, Counts):
                assert all(pulse_s is None or pulse_s <= r.at_s for _, _, pulse_s in r.values), r
        assert self.signals() <= WIRING.signals()
