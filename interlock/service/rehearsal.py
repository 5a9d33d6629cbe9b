"""The simulator in the drivers' place: paced for people who look on, or as fast as it goes."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Awaitable, Callable
from pathlib import Path

import msgspec

from drivers.simulator.driver import GIVEN_UP_S, SimulatorDriver
from drivers.simulator.faults import parse_fault
from drivers.simulator.scenario import Scenario, check_fault, load_scenario
from interlock.clock import PacedClock, VirtualClock
from interlock.errors import ActionError
from interlock.service.booth import sim_spec
from interlock.service.running import RunningDesk
from interlock.showfile.show import Show
from interlock.watch.inputs import Action, Input

LEAD_S = 40.0
"""A rehearsal begins so long before its motor_start: one sees the desk arm itself, and has time to disarm it."""
AHEAD = 50_000
"""Inputs that a rehearsal at full speed may be ahead of its record: beyond some number the record would drop them."""
LOOK_S = 0.25
EMPTY_S = 2.0
"""When its show is over, a rehearsal ends as soon as nobody has looked on for so long."""


class FastClock(VirtualClock):
    """Hands that move only after everything that was said so far has been taken care of.

    The simulator moves them, a chunk of readings at a time; :attr:`settle` is what the desk does with the chunk.
    """

    settle: Callable[[], Awaitable[None]] | None = None

    async def advance_to(self, at_s: float) -> None:
        if self.settle is not None:
            await self.settle()
        await super().advance_to(at_s)


class Rehearsal:
    """The machines of a show, and what the crew may do to them."""

    def __init__(
        self, show: Show, clock: PacedClock | VirtualClock, *, seed: int | None, scenario: str | None
    ) -> None:
        """Raises ``ScenarioError`` with every mistake in the scenario's file. Without a seed one is drawn."""
        self.seed = seed if seed is not None else secrets.randbelow(1_000_000)
        self.spec = sim_spec(show)
        self.scenario = load_scenario(scenario, self.spec) if scenario is not None else Scenario()
        self.scenario_text = Path(scenario).read_text("utf-8-sig") if scenario is not None else None
        self.clock = clock
        self.driver = SimulatorDriver(
            self.spec,
            clock,
            seed=self.seed,
            scenario=self.scenario,
            begin_s=-LEAD_S,
            step_wall=clock.step_wall,
        )

    def check(self, action: Action) -> None:
        """Raises ``ActionError`` for a speed or a fault that this rehearsal cannot have."""
        if action.action == "speed" and not isinstance(self.clock, PacedClock):
            raise ActionError("this rehearsal runs as fast as it goes: it has no speed to set")
        if action.action == "restart" and self.parted:
            raise ActionError(
                f"the crew cannot start: in this rehearsal the film has parted in {self.parted}"
            )
        if action.action == "fault":
            check_fault(parse_fault(msgspec.json.decode(action.fault or "{}")), self.spec)

    @property
    def parted(self) -> str:
        """The loops in which the film is apart, for people: nobody mends it in a rehearsal, so that none of it runs again."""
        return ", ".join(p.id for p in self.driver.booth.room.loops if p.parted and not p.released)

    def taken(self, action: Action) -> None:
        """Do what the desk has accepted."""
        if action.action == "speed" and action.x is not None and isinstance(self.clock, PacedClock):
            self.clock.set_speed(action.x)
        elif action.action == "fault":
            self.driver.fault(msgspec.json.decode(action.fault or "{}"))

    async def until_given_up(
        self, desk: RunningDesk, anybody: Callable[[], bool], say: Callable[[str], object]
    ) -> None:
        """End a rehearsal in which nothing will ever happen again: all stands, and there is not ``anybody`` to restart it.

        As long as there is, ``say`` tells them, once a standstill, what goes on with it and what ends it.
        """
        since_s: float | None = None
        told = False
        while True:
            await desk.life.sleep_until(desk.life.now_s() + LOOK_S)
            if not self.driver.booth.room.idle or self.driver.booth.room.cleared:
                since_s, told = None, False
                continue
            now_s = desk.clock.now_s()
            since_s = now_s if since_s is None else since_s
            if self.parted or not anybody():
                if now_s - since_s > GIVEN_UP_S:
                    why = f"the film has parted in {self.parted}" if self.parted else "nobody restarts them"
                    desk.end(f"the rehearsal is over: all machines stand, and {why}")
                    return
            elif not told:
                told = True
                say('all machines stand: {"action": "restart"} goes on with it, Ctrl-C ends it')

    async def run(self, desk: RunningDesk, emit: Callable[[Input], None]) -> None:
        """Paced: to the end of the show, and then on until nobody looks any more."""
        await self.driver.run(emit)
        desk.still = True  # the machines stand, their adapters are silent: not the desk's to judge any more
        empty_s = 0.0
        while empty_s < EMPTY_S and desk.lock is not None:
            await desk.life.sleep_until(desk.life.now_s() + 0.5)
            empty_s = 0.0 if desk.screens.here else empty_s + 0.5
        desk.end("the rehearsal is over")


async def run_fast(
    desk: RunningDesk, rehearsal: Rehearsal, clock: FastClock, each: Callable[[], Awaitable[None]]
) -> None:
    """As fast as it goes, to the end of the show or until the desk is told to end.

    The simulator moves the clock's hands; after each chunk of its readings everything is folded before it goes
    on, and ``each`` hands on what was said, and may wait for whoever takes it. So nothing piles up, nothing
    depends on how fast this computer is, and the same seed gives the same lines.
    """
    folding = desk.folding
    on_disk = 0

    async def settle() -> None:
        nonlocal on_disk
        folding.anchor_if_stepped()
        folding.pump()
        await each()
        if desk.journal is not None and folding.folded - on_disk > AHEAD:
            on_disk = folding.folded
            await asyncio.to_thread(desk.journal.flush)

    desk.screens.none()
    folding.start()
    clock.settle = settle
    simulator = asyncio.create_task(rehearsal.driver.run(desk.bus.inputs.publish), name="simulator")
    ended = asyncio.create_task(_until(desk.ended), name="end")
    try:
        await asyncio.wait({simulator, ended}, return_when=asyncio.FIRST_COMPLETED)
        if simulator.done():
            simulator.result()
    finally:
        for task in (simulator, ended):
            task.cancel()
        await asyncio.gather(simulator, ended, return_exceptions=True)
    desk.close()
    await each()
    await asyncio.to_thread(desk.close_journal)


async def _until(event: asyncio.Event) -> None:
    await event.wait()
