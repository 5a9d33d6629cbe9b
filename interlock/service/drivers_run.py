"""Drivers as supervised tasks.

A driver's ``run`` is not to end before it is cancelled. One that does all the same (a fault of its own)
is said to be gone with the reason, and started again after a pause that grows; the other adapters,
and the desk, go on as if nothing had happened.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterable

from drivers.driver import Driver, Emit, find
from interlock.clock import Clock
from interlock.errors import UsageError
from interlock.showfile.show import Show
from interlock.signals import AdapterSpec, Presence
from interlock.text import clean

log = logging.getLogger("longlace.drivers")

FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 15.0
GOOD_RUN_S = 60.0
"""A driver that ran so long before it failed begins again with the first pause."""


def make_drivers(show: Show, clock: Clock) -> list[tuple[AdapterSpec, Driver]]:
    """A driver for each adapter of the show. ``OptionError`` where one cannot be served as the show file has it."""
    made = []
    for spec in show.adapters:
        if spec.driver == "simulator":
            raise UsageError(
                f"adapter {spec.name} has driver simulator: there is nothing to watch; use `longlace rehearse`"
            )
        driver = find(spec.driver)(spec, clock)
        if spec.driver == "replay":
            _load(driver)
        made.append((spec, driver))
    return made


def _load(driver: Driver) -> None:
    """Hand a replay its record's readings: drivers themselves read no records."""
    from drivers.replay import ReplayDriver  # noqa: PLC0415 - a live show needs neither
    from interlock.incident.replay import readings_of  # noqa: PLC0415
    from interlock.journal import Record  # noqa: PLC0415

    assert isinstance(driver, ReplayDriver)
    Record.open(driver.record).close()  # a wrong name is said now, not when the first reading is wanted
    driver.load(readings_of(driver.record))


def run_drivers(
    drivers: Iterable[tuple[AdapterSpec, Driver]], clock: Clock, emit: Emit
) -> list[asyncio.Task[None]]:
    """One task for each, until cancelled."""
    return [
        asyncio.create_task(supervise(spec.name, driver, clock, emit), name=spec.name)
        for spec, driver in drivers
    ]


async def supervise(name: str, driver: Driver, clock: Clock, emit: Emit) -> None:
    """Run one driver for as long as the desk lives."""
    pause_s = FIRST_PAUSE_S
    while True:
        began_s = clock.now_s()
        task = asyncio.ensure_future(driver.run(emit))
        try:
            await asyncio.wait({task})
        finally:
            if not task.done():  # we are being cancelled: the driver closes its port first
                task.cancel()
                await asyncio.wait({task})
        fault = None if task.cancelled() else task.exception()
        if fault is None:
            why = "its driver ended"
        else:
            why = f"its driver failed: {type(fault).__name__}: {fault}"
            log.error("adapter %s: %s", name, why, exc_info=fault)
        now_s = clock.now_s()
        if now_s - began_s >= GOOD_RUN_S:
            pause_s = FIRST_PAUSE_S
        text = clean(f"{why}; started again in {pause_s:g} s")
        emit(Presence(now_s, now_s, name, "gone", text=text))
        await clock.sleep_until(now_s + pause_s)
        pause_s = min(2.0 * pause_s, LONGEST_PAUSE_S)
