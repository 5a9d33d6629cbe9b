"""The simulator as a driver: one that serves every adapter of the show at once, and paces itself on the clock.

On a clock that moves by itself (:class:`~interlock.clock.PacedClock`) it sleeps from chunk to chunk. Nothing but
the driver moves the hands of a :class:`~interlock.clock.VirtualClock`: as fast as the rest keeps up. Then a chunk's
readings are sent first and the clock moved after, so that no deadline of the desk's falls due before the readings
that came in ahead of it; for at most ``CHUNK_S`` a reading's ``at_s`` is ahead of the clock.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable, Mapping
from typing import ClassVar

from pydantic import BaseModel, ConfigDict

from drivers.driver import Emit, read_options
from drivers.simulator.booth import Booth
from drivers.simulator.faults import parse_fault
from drivers.simulator.faults_booth import ClockStep
from drivers.simulator.machines import SimSpec
from drivers.simulator.scenario import Scenario
from interlock.clock import Clock, PacedClock, VirtualClock
from interlock.errors import ActionError
from interlock.signals import AdapterSpec

CHUNK_S = 0.25
"""Of simulated time, between two looks at the clock at ``--speed max``."""
LIFE_S = 0.02
"""The same on a clock that moves by itself, times its speed (0.25 s of simulated time at most)."""
LEASH_S = 0.4
"""So far the clock may run ahead of the machines: their adapters speak every 0.25 s, and 0.75 s is a silence."""
LINGER_S = 10.0
"""After the last motor is off everywhere."""
GIVEN_UP_S = 300.0
"""At full speed nobody is there to start a show again that stands in the middle: so long, and it is over."""


class SimulatorOptions(BaseModel):
    """An adapter of kind ``simulator`` has no keys of its own: what its machines are is the show's matter."""

    model_config = ConfigDict(extra="forbid")


class SimulatorDriver:
    """Serves all adapters of ``spec``. Desk second = the clock's; plan time begins at ``begin_s`` when ``run`` is called.

    ``step_wall(by_s)`` makes the ``clock-step`` faults; by default a virtual clock's hands do.
    """

    Options: ClassVar[type[BaseModel]] = SimulatorOptions

    def __init__(
        self,
        spec: SimSpec,
        clock: Clock,
        *,
        seed: int = 0,
        scenario: Scenario | None = None,
        begin_s: float = -45.0,
        history: bool = False,
        step_wall: Callable[[float], None] | None = None,
    ) -> None:
        for adapter in spec.adapters:
            check_options(adapter)
        self._clock, self._begin_s = clock, begin_s
        self._paced = clock if isinstance(clock, PacedClock) else None
        if self._paced is not None:
            self._paced.keep_within(clock.now_s())  # nothing is said before run(), and that is no silence
        self._step_wall = step_wall or (clock.step_wall if isinstance(clock, VirtualClock) else None)
        # Before run() the base is a guess; nothing is said before it.
        self.booth = Booth(
            spec, seed, scenario, base_s=clock.now_s() - begin_s, begin_s=begin_s, history=history
        )
        self._started = False
        self._steps = sorted(self.booth.room.scenario.clock_steps)

    async def run(self, emit: Emit) -> None:
        """Serve until cancelled, or until the show is over: film through and motors off, and a little longer."""
        if self._started:
            raise RuntimeError("a simulated show runs once")
        self._started = True
        self.booth.rebase(self._clock.now_s() - self._begin_s)
        base_s = self.booth.base_s
        still_s: float | None = None
        virtual = self._clock if isinstance(self._clock, VirtualClock) else None
        paced = self._paced
        room = self.booth.room
        while True:
            if virtual is not None:
                to_s = room.now_s + CHUNK_S
                for reading in self.booth.advance(to_s):
                    emit(reading)
                await asyncio.sleep(0)
                await virtual.advance_to(base_s + to_s)
            else:
                speed = paced.speed if paced is not None else 1.0
                if paced is not None:
                    paced.keep_within(base_s + room.now_s + LEASH_S)
                await self._clock.sleep_until(base_s + room.now_s + min(LIFE_S * speed, CHUNK_S))
                for reading in self.booth.advance(self._clock.now_s() - base_s):
                    emit(reading)
            self._step_clock(room.now_s)
            if not room.idle:
                still_s = None
            elif still_s is None:
                still_s = room.now_s
            elif room.now_s - still_s > (LINGER_S if room.cleared else GIVEN_UP_S) and (
                room.cleared or virtual is not None
            ):
                break
        if paced is not None:
            paced.keep_within(math.inf)

    def _step_clock(self, now_s: float) -> None:
        while self._steps and self._steps[0][0] <= now_s:
            _, by_s = self._steps.pop(0)
            if self._step_wall is not None:
                self._step_wall(by_s)

    def fault(self, entry: Mapping[str, object]) -> None:
        """A fault thrown in by hand, as a line of a scenario. Raises ``ActionError``; it has then changed nothing."""
        fault = parse_fault(entry)
        if isinstance(fault, ClockStep):
            if self._step_wall is None:
                raise ActionError("kind: this rehearsal's wall clock cannot be set")
            self._step_wall(fault.by_s)
        else:
            self.booth.fault(fault)


def check_options(adapter: AdapterSpec) -> None:
    """Raises ``OptionError`` for an adapter of kind ``simulator`` with keys that it has not.

    Others are emulated, whatever their keys are.
    """
    if adapter.driver == "simulator":
        read_options(SimulatorOptions, adapter)
