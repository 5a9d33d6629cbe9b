"""Following a desk that runs in another process, without a screen: its stream, or a sentence an event."""

from __future__ import annotations

import asyncio
import signal
import sys
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import suppress
from typing import Any

from interlock.sentences import timed
from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from interlock.service.plain import Output, plain, read_lines
from interlock.watch.state import Farewell, Happened, Hello, Line, ShowLine, State

BY_KEYBOARD = 130
GONE = "THE DESK IS NOT HEARD"
"""Before the reason: whoever reads sentences instead of a screen must not take silence for peace."""
ENDED = "THE WATCH HAS ENDED: nothing is watched or recorded"
"""The last word, in order: there is nothing to come back to."""


def snapshot_lines(state: State, title: str) -> list[Line]:
    """The newest line of everything, with which a stream begins that was not there from the start."""
    show = ShowLine(seq=state.seq, at=state.at, show_s=state.show_s, phase=state.phase, title=title)
    return [show, *state.adapters, *state.houses, *state.links, *state.alarms, *state.cues]


async def lines(
    connection: DeskConnection, gone: Callable[[str], object] = lambda words: None
) -> AsyncIterator[Line]:
    """A snapshot, and then every line until the desk ends. ``gone`` is told, in words, that nothing more is heard."""
    async for frame in connection.frames():
        if isinstance(frame, Hello):
            for line in snapshot_lines(frame.state, frame.layout.title):
                yield line
        elif isinstance(frame, Happened):
            yield frame.line
        elif isinstance(frame, Farewell):
            gone(f"{GONE}: {frame.reason}")
    gone(ENDED)


async def follow_plain(place: Place) -> int:
    """``--plain`` on a desk that runs already; the keyboard ends the stream and not that desk."""
    connection = DeskConnection(place)
    output = Output()
    loop = asyncio.get_running_loop()

    def take(text: bytes) -> None:
        with suppress(RuntimeError):
            loop.call_soon_threadsafe(connection.send_text, text)

    read_lines(take)

    def gone(words: str) -> None:
        sys.stderr.write(f"{words}\n")

    code = await _until_interrupted(_each(connection, lambda line: output.put(plain(line)), gone))
    await asyncio.to_thread(output.close)
    return code


async def follow_sentences(place: Place, say: Callable[[str], object]) -> int:
    """A sentence an event until the desk ends, and one when it is not heard; the exit code."""

    def each(line: Line) -> None:
        words = timed(line)
        if words is not None:
            say(words)

    return await _until_interrupted(_each(DeskConnection(place), each, say))


async def _each(
    connection: DeskConnection, do: Callable[[Line], object], gone: Callable[[str], object]
) -> None:
    async for line in lines(connection, gone):
        do(line)


async def _until_interrupted(work: Coroutine[Any, Any, None]) -> int:
    task = asyncio.create_task(work)
    asyncio.get_running_loop().add_signal_handler(signal.SIGINT, task.cancel)
    try:
        await task
    except asyncio.CancelledError:
        return BY_KEYBOARD
    return 0
