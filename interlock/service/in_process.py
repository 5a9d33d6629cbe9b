"""A desk without a screen, in the process that asked for it: ``--plain``, and a rehearsal as fast as it goes."""

from __future__ import annotations

import asyncio
import logging
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from interlock.errors import DeskRunning
from interlock.service.compose import Opened, open_rehearsal, open_watch, rehearsed
from interlock.service.config import Config
from interlock.service.follow import follow_plain
from interlock.service.place import Lock, Place
from interlock.service.plain import Output, PlainDesk
from interlock.service.rehearsal import LEAD_S, FastClock, Rehearsal, run_fast
from interlock.service.running import RunningDesk
from interlock.service.shows import read_show
from interlock.service.summary import Summary

BY_KEYBOARD = 130
CANNOT_WRITE = 2


def watch_plain(config: Config) -> int:
    """The live desk in this process; the exit code. Where one runs already for this show, its stream instead."""
    place = Place(config.show)
    lock = Lock(place)
    lock.given = config.given()
    try:
        lock.take()
    except DeskRunning:
        return asyncio.run(follow_plain(place))
    _log_to(place.log)

    async def run() -> int:
        return await _plain(await open_watch(config), lock)

    try:
        return asyncio.run(run())
    finally:
        lock.release()


def rehearse_plain(config: Config) -> int:
    """A rehearsal at its own pace in this process; the exit code."""
    _log_to(Path(os.devnull))

    async def run() -> int:
        return await _plain(await open_rehearsal(config), None)

    return asyncio.run(run())


def rehearse_fast(config: Config) -> int:
    """A rehearsal as fast as it goes, every line on standard output; the exit code."""
    _log_to(Path(os.devnull))

    async def run() -> int:
        desk, rehearsal, clock = _open_fast(config)
        desk.end_on_signals()
        plain = PlainDesk(desk)
        await run_fast(desk, rehearsal, clock, plain.in_step)
        await asyncio.to_thread(plain.output.close)
        return _code(desk, plain.output)

    return asyncio.run(run())


def rehearse_summed_up(config: Config, say: Callable[[str], object]) -> int:
    """A rehearsal as fast as it goes, and then what happened in it, for a person; the exit code."""

    async def run() -> int:
        desk, rehearsal, clock = _open_fast(config)
        desk.end_on_signals()
        box = desk.bus.lines.lossless("summary")
        summary = Summary(desk.folding.show, rehearsal.seed, rehearsal.scenario.title)
        began_s = desk.life.now_s()

        async def each() -> None:
            for line in box.drain():
                summary.take(line)

        await run_fast(desk, rehearsal, clock, each)
        say(summary.text(desk.life.now_s() - began_s))
        return _code(desk)

    return asyncio.run(run())


async def _plain(opened: Opened, lock: Lock | None) -> int:
    desk = opened.desk
    desk.end_on_signals()
    plain = PlainDesk(desk)
    if lock is not None:
        lock.says(opened.show.title)
        await desk.open(lock)
    standing = asyncio.create_task(_while_standing(opened, plain), name="standstill")
    await opened.run([asyncio.create_task(plain.feed(), name="standard output")])
    standing.cancel()
    with suppress(asyncio.CancelledError):
        await standing
    await asyncio.to_thread(plain.output.close)
    return _code(desk, plain.output)


async def _while_standing(opened: Opened, plain: PlainDesk) -> None:
    """Of a rehearsal that has stopped: whoever can restart it is told how, and where nobody can it ends."""
    if opened.rehearsal is not None:
        await opened.rehearsal.until_given_up(
            opened.desk, plain.reading.is_alive, lambda words: sys.stderr.write(f"{words}\n")
        )


def _open_fast(config: Config) -> tuple[RunningDesk, Rehearsal, FastClock]:
    show = read_show(config.show)
    clock = FastClock(0.0, show.motor_start_wall_s - LEAD_S)
    desk, rehearsal = rehearsed(show, config, clock)
    return desk, rehearsal, clock


def _code(desk: RunningDesk, output: Output | None = None) -> int:
    """The exit code. Where the record is, or why it is not, is no line of the desk's: it goes to standard error."""
    lost = output.trouble if output is not None else None
    if lost is not None:
        sys.stderr.write(f"the output cannot be written: {lost}\n")
    if desk.head is not None or desk.troubles:
        sys.stderr.write(f"{desk.last_word}\n")
    if desk.interrupted:
        return BY_KEYBOARD
    return CANNOT_WRITE if lost is not None else 1 if desk.troubles else 0


def _log_to(path: Path) -> None:
    """Never to standard error: a terminal that was stopped would stop the desk with it."""
    logging.basicConfig(
        filename=path, level=logging.INFO, format="%(asctime)s %(name)s %(levelname)s %(message)s", force=True
    )
