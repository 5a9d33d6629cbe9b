"""The station as a process: its lines go to standard output with the time of day before them."""

from __future__ import annotations

import asyncio
import signal
import sys
from contextlib import suppress
from datetime import UTC, datetime

from interlock.clock import SystemClock
from interlock.errors import OptionError
from interlock.station.file import StationFile
from interlock.station.serve import Station
from interlock.text import clean

BY_KEYBOARD = 130
REDRAW_S = 0.5


async def run_station(file: StationFile, *, screen: bool = False) -> int:
    """Until SIGINT or SIGTERM; the exit code. ``screen``: standard output is a terminal that may be drawn on."""
    try:
        import aiomqtt  # noqa: F401, PLC0415 - an extra
    except ImportError as error:
        raise OptionError('aiomqtt is not installed: install the program with its extra "mqtt"') from error
    clock = SystemClock()

    def say(text: str) -> None:
        if screen:
            return  # it is all on the screen
        at = datetime.fromtimestamp(clock.wall_s(), UTC).astimezone()
        sys.stdout.write(f"{at:%H:%M:%S} {clean(text, 2000)}\n")
        sys.stdout.flush()

    o = file.options
    station = Station(file, clock, say)
    say(f"station {o.name} of {o.site}: {', '.join(station.streams)}; journal {station.journal.path}")
    task = asyncio.create_task(station.run())
    loop = asyncio.get_running_loop()
    ended_by: list[int] = []

    def end(number: int) -> None:
        ended_by.append(number)
        task.cancel()

    for number in (signal.SIGINT, signal.SIGTERM):
        with suppress(NotImplementedError):  # not on every system; SIGINT then ends it all the same
            loop.add_signal_handler(number, end, number)
    with suppress(asyncio.CancelledError):
        if screen:
            await _draw(station, task, clock)
        await task
    say("ended")
    return BY_KEYBOARD if signal.SIGINT in ended_by else 0


async def _draw(station: Station, task: asyncio.Task[None], clock: SystemClock) -> None:
    """The station's screen, until the task ends."""
    from rich.console import Console, Group  # noqa: PLC0415 - a station without a screen needs none of it
    from rich.live import Live  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    def drawn() -> Group:
        lines = station.board(console.height)
        return Group(*(Text(text, style, no_wrap=True, overflow="ellipsis") for text, style in lines))

    console = Console()
    with Live(drawn(), console=console, screen=True, auto_refresh=False) as live:
        while not task.done():
            live.update(drawn(), refresh=True)
            pause = asyncio.ensure_future(clock.sleep_until(clock.now_s() + REDRAW_S))
            try:
                await asyncio.wait({pause, task}, return_when=asyncio.FIRST_COMPLETED)
            finally:
                pause.cancel()
