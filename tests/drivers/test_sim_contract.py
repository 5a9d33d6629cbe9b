"""The simulator by the contract of all drivers."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from contract import WIRING, DriverContract, Rig

from drivers.driver import Driver
from drivers.simulator.driver import SimulatorDriver
from drivers.simulator.faults import parse_fault
from drivers.simulator.machines import LoopSpec, MachineSpec, SimSpec
from interlock.clock import VirtualClock
from interlock.signals import AdapterSpec


class HandClock:
    """A clock that the rig moves: what a paced clock is to the driver."""

    def __init__(self) -> None:
        self.hands = VirtualClock(100.0)
        self.now_s, self.wall_s, self.sleep_until = (
            self.hands.now_s,
            self.hands.wall_s,
            self.hands.sleep_until,
        )


class SimRig(Rig):
    """One adapter in a booth that does not start, with hands on its inputs."""

    can = frozenset({"contact", "count", "restart", "silence", "unplug"})
    bad_options = ({"no_such_key": 1}, {"port": "/dev/ttyACM0"})

    def __init__(self) -> None:
        self.clock = HandClock()
        self.at_work: SimulatorDriver | None = None
        self.frames, self.plugged = 0.0, True
        self.running = 0

    @property
    def driver(self) -> type[Driver]:
        rig = self

        class OneAdapter(SimulatorDriver):
            def __init__(self, spec: AdapterSpec, clock: Any) -> None:
                machines = tuple(MachineSpec(h, start_delay_s=1e6) for h in ("4", "3"))
                loops = (LoopSpec("4", "3", 100.0),)
                super().__init__(SimSpec(24.0, 0.0, 1e6, machines, loops, adapters=(spec,)), clock)
                rig.at_work = self
                rig.contact(2, False)  # all inputs are open

            async def run(self, emit: Any) -> None:
                if rig.frames:
                    rig.turn(rig.frames)
                if not rig.plugged:
                    rig.unplug()
                rig.running += 1
                try:
                    await super().run(emit)
                finally:
                    rig.running -= 1

        return OneAdapter  # type: ignore[return-value]

    def spec(self, **options: Any) -> AdapterSpec:
        return AdapterSpec("north", "simulator", options, WIRING)

    async def start(self) -> None:
        pass

    async def stop(self) -> None:
        pass

    async def pass_s(self, seconds: float) -> None:
        await asyncio.sleep(0)
        await self.clock.hands.advance_to(self.clock.now_s() + seconds)

    def held(self) -> bool:
        return self.running > 0

    @property
    def room(self) -> Any:
        assert self.at_work is not None
        return self.at_work.booth.room

    def contact(self, level: int, closed: bool) -> None:
        signal = WIRING.levels[level]
        self.room.contact(self.room.now_s, signal.removeprefix("!"), closed != signal.startswith("!"))

    def turn(self, frames: float) -> None:
        self.room.machines[0].motion.begin(self.room.now_s, 0.0, jump_fr=frames)

    def pulses(self, counter: int, n: int) -> None:
        self.frames += n * 0.5
        if self.at_work is not None:
            self.turn(n * 0.5)

    def hand(self, **fault: Any) -> None:
        assert self.at_work is not None
        self.at_work.booth.fault(parse_fault({"adapter": "north", **fault}))

    def restart(self) -> None:
        self.hand(kind="restart")

    def back(self) -> None:
        assert self.at_work is not None
        adapter = self.at_work.booth.adapters[0]
        adapter.silent_until_s = self.room.now_s
        adapter.later(self.room.now_s, lambda t_s, _, out: adapter.back(t_s, out))

    def silence(self, on: bool) -> None:
        if on:
            self.hand(kind="silence", **{"for": "1 h"})
        else:
            self.back()

    def unplug(self) -> None:
        self.plugged = False
        if self.at_work is not None:
            self.at_work.booth.adapters[0].silent_until_s = 1e9
            self.hand(kind="unplug", **{"for": "1 h"})

    def plug(self) -> None:
        self.plugged = True
        self.back()


class TestSimulatorContract(DriverContract):
    def make_rig(self, tmp_path: Path) -> Rig:
        return SimRig()
