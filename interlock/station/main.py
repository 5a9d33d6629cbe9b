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


async def run_station(file: StationFile) -> None:
    """Until SIGINT or SIGTERM."""
    try:
        import aiomqtt  # noqa: F401, PLC0415 - an extra
    except ImportError as error:
        raise OptionError('aiomqtt is not installed: install the program with its extra "mqtt"') from error
    clock = SystemClock()

    def say(text: str) -> None:
        at = datetime.fromtimestamp(clock.wall_s(), UTC).astimezone()
        sys.stdout.write(f"{at:%H:%M:%S} {clean(text, 2000)}\n")
        sys.stdout.flush()

    o = file.options
    station = Station(file, clock, say)
    say(f"station {o.name} of {o.site}: {', '.join(station.streams)}; journal {station.journal.path}")
    task = asyncio.create_task(station.run())
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        with suppress(NotImplementedError):  # not on every system; SIGINT then ends it all the same
            loop.add_signal_handler(number, task.cancel)
    with suppress(asyncio.CancelledError):
        await task
    say("ended")
