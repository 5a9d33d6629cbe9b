"""The simulator in the drivers' place: paced for people who look on, or as fast as it goes."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Awaitable, Callable
from pathlib import Path

import msgspec
from drivers.simulator.driver import SimulatorDriver

from drivers.simulator.faults import read_fault
from drivers.simulator.scenario import Scenario, check_fault, load_scenario
from interlock.clock import PacedClock, VirtualClock
from interlock.errors import ActionError
from interlock.service.booth import sim_spec
from interlock.service.running import RunningDesk
from interlock.showfile.show import Show
from interlock.watch.inputs import Action, Input

LEAD_S = 40.0
"""A rehearsal begins so long before its motor_start: one sees the desk arm itself, and has time to disarm it."""
EMPTY_S = 2.0
"""When its show is over, a rehearsal ends as soon as nobody has looked on for so long."""


class Rehearsal:
    """The machines of a show, and what the crew may do to them."""

    def __init__(
        self, show: Show, clock: PacedClock | VirtualClock, *, seed: int | None, scenario: str | None
    ) -> None:
        """Raises ``ScenarioError`` with every mistake in the scenario's file. Without a seed one is drawn."""
        self.seed = seed if seed is not None else secrets.randbelow(1_000_000)
        self.spec = sim_spec(show)
        self.scenario = load_scenario(scenario) if scenario is not None else Scenario()
        self.scenario.check(self.spec)
        self.scenario_text = Path(scenario).read_text("utf-8-sig") if scenario is not None else None
        self.clock = clock
        self.driver = SimulatorDriver(self.spec, clock, seed=self.seed, scenario=self.scenario)

    def check(self, action: Action) -> None:
        """Raises ``ActionError`` for a speed or a fault that this rehearsal cannot have."""
        if action.action == "speed" and not isinstance(self.clock, PacedClock):
            raise ActionError("this rehearsal runs as fast as it goes: it has no speed to set")
        if action.action == "fault":
            fault, mistakes = read_fault(msgspec.json.decode(action.fault or "{}"))
            if fault is None or mistakes:
                raise ActionError("fault: " + "; ".join(f"{key}: {text}" for key, text in mistakes))
            check_fault(fault, self.spec)

    def taken(self, action: Action) -> None:
        """Do what the desk has accepted."""
        if action.action == "speed" and action.x is not None and isinstance(self.clock, PacedClock):
            self.clock.set_speed(action.x)
        elif action.action == "fault":
            self.driver.fault(msgspec.json.decode(action.fault or "{}"))

    async def run(self, desk: RunningDesk, emit: Callable[[Input], None]) -> None:
        """Paced: to the end of the show, and then on until nobody looks any more."""
        steps = asyncio.create_task(self.step_wall())
        try:
            await self.driver.run(emit)
        finally:
            steps.cancel()
        desk.still = True  # the machines stand, their adapters are silent: not the desk's to judge any more
        empty_s = 0.0
        while empty_s < EMPTY_S and desk.lock is not None:
            await desk.life.sleep_until(desk.life.now_s() + 0.5)
            empty_s = 0.0 if desk.screens.here else empty_s + 0.5
        desk.end("the rehearsal is over")

    async def step_wall(self) -> None:
        """The wall clock's steps of the scenario. They are given in plan time, and the clock begins LEAD_S before it."""
        began_s = self.clock.now_s()
        for plan_s, by_s in sorted(self.scenario.clock_steps):
            await self.clock.sleep_until(began_s + LEAD_S + plan_s)
            self.clock.step_wall(by_s)


async def run_fast(
    desk: RunningDesk, rehearsal: Rehearsal, clock: VirtualClock, each: Callable[[], Awaitable[None]]
) -> None:
    """As fast as it goes, to the end of the show or until the desk is told to end; ``each`` hands on
    what was said, and may wait for whoever takes it.

    One loop moves the hands from one moment at which something happens to the next, and folds in between:
    nothing ever waits, and the same seed gives the same lines.
    """
    desk.folding.start()
    await each()
    tasks = [
        asyncio.create_task(rehearsal.driver.run(desk.bus.inputs.publish), name="simulator"),
        asyncio.create_task(rehearsal.step_wall(), name="wall clock"),
    ]
    simulator = tasks[0]
    try:
        await asyncio.sleep(0)
        while not simulator.done() and not desk.ended.is_set():
            sleeper_s, due_s = clock.next_sleeper_s(), desk.folding.desk.next_due_s()
            nexts = [t for t in (sleeper_s, due_s) if t is not None]
            if sleeper_s is None or not nexts:
                await asyncio.sleep(0)  # the simulator is about to say when it wants to wake
                continue
            await clock.advance_to(max(min(nexts), clock.now_s()))
            desk.folding.anchor_if_stepped()
            desk.folding.pump()
            await each()
        if simulator.done():
            simulator.result()
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    desk.close()
    await each()
    if desk.journal is not None:
        await asyncio.to_thread(desk.journal.close)
