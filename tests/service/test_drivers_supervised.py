"""Drivers as supervised tasks: one that fails is said to be gone and started again; the others never hear of it."""

from __future__ import annotations

import asyncio
from typing import ClassVar

import pytest
from desk_rig import contacts, make_show
from pydantic import BaseModel

from drivers.driver import Emit
from interlock.clock import Clock, VirtualClock
from interlock.errors import UsageError
from interlock.service.drivers_run import FIRST_PAUSE_S, LONGEST_PAUSE_S, make_drivers, run_drivers
from interlock.signals import AdapterSpec, Contacts, Presence, Reading


class Told:
    """Fails, ends or serves, as its script says; one entry a run."""

    Options: ClassVar[type[BaseModel]] = BaseModel

    def __init__(self, spec: AdapterSpec, clock: Clock, script: tuple[str, ...] = ()) -> None:
        self.spec, self.clock, self.script = spec, clock, list(script)
        self.runs: list[float] = []
        self.closed = 0

    async def run(self, emit: Emit) -> None:
        self.runs.append(self.clock.now_s())
        do = self.script.pop(0) if self.script else "serve"
        try:
            if do == "fail":
                raise OSError("the cable\x1b[31m is bad")
            while do != "end":
                emit(contacts(self.clock.now_s()))
                await self.clock.sleep_until(self.clock.now_s() + 0.25)
        finally:
            self.closed += 1


async def pass_s(clock: VirtualClock, seconds: float) -> None:
    for _ in range(round(seconds / 0.25)):
        await clock.advance_to(clock.now_s() + 0.25)
        await asyncio.sleep(0)


async def test_a_driver_that_fails_or_ends_is_gone_and_comes_back_after_growing_pauses() -> None:
    clock = VirtualClock()
    heard: list[Reading] = []
    spec = AdapterSpec("north", "told")
    bad = Told(spec, clock, ("fail", "end", *("fail",) * 6))
    good = Told(AdapterSpec("south", "told"), clock)
    tasks = run_drivers([(spec, bad), (good.spec, good)], clock, heard.append)
    await pass_s(clock, 70.0)
    gone = [r for r in heard if isinstance(r, Presence)]
    assert {r.adapter for r in gone} == {"north"}
    assert gone[0].text.startswith("its driver failed: OSError: the cable is bad; started again in 0.5 s")
    assert gone[1].text.startswith("its driver ended")
    pauses = [b - a for a, b in zip(bad.runs, bad.runs[1:], strict=False)]
    wanted = [min(FIRST_PAUSE_S * 2**k, LONGEST_PAUSE_S) for k in range(len(pauses))]
    assert pauses == pytest.approx(wanted, abs=0.26)
    assert len(good.runs) == 1
    assert sum(isinstance(r, Contacts) for r in heard) >= 280
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    assert good.closed == 1
    assert bad.closed == len(bad.runs)


async def test_a_driver_that_ran_well_for_long_begins_again_with_the_first_pause() -> None:
    clock = VirtualClock()
    heard: list[Reading] = []
    spec = AdapterSpec("north", "told")

    class LongThenFails(Told):
        async def run(self, emit: Emit) -> None:
            self.runs.append(self.clock.now_s())
            await self.clock.sleep_until(self.clock.now_s() + 100.0)
            raise OSError("unplugged")

    driver = LongThenFails(spec, clock)
    tasks = run_drivers([(spec, driver)], clock, heard.append)
    await pass_s(clock, 450.0)
    assert [b - a for a, b in zip(driver.runs, driver.runs[1:], strict=False)] == pytest.approx(
        [100.0 + FIRST_PAUSE_S] * 4, abs=0.3
    )
    tasks[0].cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


def test_a_show_of_simulated_adapters_cannot_be_watched_and_the_remedy_is_named() -> None:
    show = make_show(0.0)
    simulated = show.adapters[0].__class__("north", "simulator")
    with pytest.raises(UsageError, match="longlace rehearse"):
        make_drivers(_with(show, simulated), VirtualClock())


def _with(show: object, adapter: AdapterSpec) -> object:
    import msgspec  # noqa: PLC0415 - only here

    return msgspec.structs.replace(show, adapters=(adapter,))
