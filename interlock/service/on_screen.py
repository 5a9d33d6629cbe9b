"""Starting a desk that outlives the screen, and opening a screen on one."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Iterator
from contextlib import suppress

from interlock.clock import SystemClock
from interlock.errors import DeskRunning, RecordError, UsageError
from interlock.service.config import Config
from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from interlock.service.spawn import start_desk
from interlock.text import as_argument, shown

END_S = 40.0
"""So long a desk may take to end: every step of it has its own limit, and a slow disk needs some of that."""


def has_terminal() -> bool:
    """Whether a screen can be opened here."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def start_and_show(config: Config) -> int:
    """Start the desk, or find it running, and open a screen on it; the exit code."""
    need_terminal()
    place = Place(config.show, rehearsal=config.rehearsal)
    who = place.running()
    if who is None:
        try:
            start_desk(config, place)
        except DeskRunning:  # somebody else was quicker by a moment
            who = place.running()
    if who is not None:
        # The same command once more, as when a terminal was lost, is one more screen.
        other = [name for name, value in config.given().items() if who.given.get(name) != value]
        if other:
            raise UsageError(
                f"a desk for {config.show} runs already, started without this --{other[0]}: "
                f"`longlace attach {as_argument(config.show)}` opens a screen on it"
            )
    return show_screen(place)


def show_screen(place: Place) -> int:
    """One screen on the desk at ``place``; the exit code."""
    need_terminal()
    from tui.app import LonglaceApp  # noqa: PLC0415 - a quarter of a second that nothing else needs
    from tui.gone import run_on_terminal  # noqa: PLC0415

    connection = DeskConnection(place)
    app = LonglaceApp(connection)
    run_on_terminal(app)
    ended_here = app.return_value == "end"
    if ended_here:
        asyncio.run(_ended(place))
    record = app.model.layout.record if app.model.layout is not None else None
    for words in _last_words(place, record, connection.farewell, ended_here=ended_here):
        sys.stdout.write(f"{words}\n")
    return 0


async def _ended(place: Place) -> None:
    """Until the desk that was told to end has closed its record, or has taken longer than it ever should."""
    clock = SystemClock()
    until_s = clock.now_s() + END_S
    while place.running() is not None and clock.now_s() < until_s:
        await clock.sleep_until(clock.now_s() + 0.05)


def _last_words(place: Place, record: str | None, farewell: str | None, *, ended_here: bool) -> Iterator[str]:
    """What became of the desk when its screen was left, where its record is, and what can be had from that."""
    if place.running() is not None:
        if farewell is not None:
            yield farewell
        what = "rehearsal" if place.rehearsal else "desk"
        yield f"The {what} goes on: `longlace attach {as_argument(place.show_path)}` opens a screen on it."
    elif farewell is None and not ended_here:
        command = "rehearse" if place.rehearsal else "watch"
        yield f"The desk has died without a word: `longlace {command} {as_argument(place.show_path)}` starts it again."
    else:
        yield farewell or _ending(place, record)
        if record is not None:
            yield f"What happened: longlace report {as_argument(record)}"
        elif place.rehearsal:
            yield "No record was kept of it: --journal FILE keeps one."


def _ending(place: Place, record: str | None) -> str:
    """The last word of a desk that was ended from here: this screen had gone before it could say it."""
    words = f"The {'rehearsal' if place.rehearsal else 'watch'} has ended"
    if record is not None:
        from interlock.journal import Record  # noqa: PLC0415 - a screen needs no database until here

        with suppress(RecordError), Record.open(record) as kept:
            return f"{words}; record {shown(record)}, head {kept.head}"
    return f"{words}."


def need_terminal(instead: str = "--plain (or `longlace attach --lines`)") -> None:
    """``UsageError`` where there is none; ``instead``: what serves without one."""
    if not has_terminal():
        raise UsageError(f"a screen needs a terminal; without one use {instead}")
