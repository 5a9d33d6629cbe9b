"""Putting a desk together: the live one, and the rehearsal with a pace of its own.

The same for the detached desk and for ``--plain`` in one process.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from interlock.clock import PacedClock, SystemClock, VirtualClock
from interlock.service.config import Config
from interlock.service.drivers_run import make_drivers, run_drivers
from interlock.service.publish import publishers
from interlock.service.rehearsal import LEAD_S, Rehearsal
from interlock.service.running import Readers, RunningDesk
from interlock.service.shows import read_show
from interlock.showfile.show import Show
from interlock.watch.inputs import Action, Input

if TYPE_CHECKING:
    from interlock.service.recording import Kept


class Opened(msgspec.Struct, frozen=True):
    """A desk that is ready to run."""

    show: Show
    desk: RunningDesk
    readers: Readers
    rehearsal: Rehearsal | None = None
    """Its machines, where they are simulated."""

    async def run(self, others: Sequence[asyncio.Task[None]] = ()) -> None:
        """Until it ends."""
        await self.desk.run(self.readers, others)


async def open_watch(config: Config) -> Opened:
    """The live desk. Raises what is wrong with the show file, its adapters' options or the record."""
    show = read_show(config.show)
    clock = SystemClock()
    drivers = make_drivers(show, clock)
    from interlock.service.recording import open_record  # noqa: PLC0415 - a rehearsal without a record needs no database

    record = open_record(show, Path(config.journal) if config.journal is not None else None)
    desk = RunningDesk(show, clock, past=record.past, record=record.path)
    if record.taken_up:
        clock.offset_s += desk.folding.resume_s(clock.wall_s()) - clock.now_s()
    desk.journal = record.open(desk.health)

    def read(emit: Callable[[Input], None]) -> list[asyncio.Task[None]]:
        return [*run_drivers(drivers, clock, emit), *publishers(show, desk.folding, clock)]

    return Opened(show, desk, read)


def rehearsed(show: Show, config: Config, clock: PacedClock | VirtualClock) -> tuple[RunningDesk, Rehearsal]:
    """A desk whose machines are simulated, and the machines; its record begins here, if it keeps one."""
    rehearsal = Rehearsal(show, clock, seed=config.seed, scenario=config.scenario)
    record = rehearsal_record(show, config, rehearsal)
    desk = RunningDesk(
        show,
        clock,
        rehearsal=True,
        record=record.path if record is not None else None,
        check=rehearsal.check,
        taken=rehearsal.taken,
    )
    if record is not None:
        desk.journal = record.open(desk.health)
    return desk, rehearsal


async def open_rehearsal(config: Config) -> Opened:
    """The same desk with the simulator as its driver, on a clock that can be sped up."""
    show = read_show(config.show)
    clock = PacedClock(SystemClock(), config.speed, show.motor_start_wall_s - LEAD_S)
    desk, rehearsal = rehearsed(show, config, clock)

    def read(emit: Callable[[Input], None]) -> list[asyncio.Task[None]]:
        if config.speed != 1.0:  # so that every screen and the record say why the clock runs as it does
            emit(Action(clock.now_s(), "speed", by="the command line", x=config.speed))
        return [asyncio.create_task(rehearsal.run(desk, emit), name="simulator")]

    return Opened(show, desk, read, rehearsal)


def rehearsal_record(show: Show, config: Config, rehearsal: Rehearsal) -> Kept | None:
    """The record of a rehearsal, which is kept only where one is asked for."""
    if config.journal is None:
        return None
    from interlock.service.recording import open_record  # noqa: PLC0415 - as above

    return open_record(show, Path(config.journal), rehearsal=rehearsal)
