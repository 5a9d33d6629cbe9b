"""The one order in which things end: readers → bus → journal → port.

Each step may only end when nothing upstream of it can speak any more; otherwise the last readings of a
show would be published to nobody, or written to a record that is already closed.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterable
from typing import Any, Protocol

from interlock.clock import Clock


class _Closes(Protocol):
    def close(self) -> None: ...


async def shut_down(
    *,
    clock: Clock,
    readers: Iterable[asyncio.Task[Any]] = (),
    bus: _Closes,
    subscribers: Iterable[asyncio.Task[Any]] = (),
    journal: Callable[[], object] | None = None,
    port: Callable[[], Awaitable[object]] | None = None,
    timeout_s: float = 5.0,
) -> list[str]:
    """End a desk in order; returns in sentences what did not end as it should (the empty list if all did).

    1. ``readers`` (the drivers' tasks) are cancelled and waited for.
    2. ``bus`` is closed; ``subscribers`` (tasks that read mailboxes: the desk, the feeding of screens) end by
       themselves when their boxes are empty, and are cancelled only if they have not within ``timeout_s``.
    3. ``journal`` (``JournalWriter.close``, which may block on the disk) is called in a thread of its own.
    4. ``port`` (the screens' socket) is closed last, so that screens still hear the last lines.

    Every step is taken even if one before it failed, each within ``timeout_s`` of ``clock``.
    """
    troubles: list[str] = []
    cancelled: list[asyncio.Future[Any]] = list(readers)
    for reader in cancelled:
        reader.cancel()
    troubles += await _ended("reader", cancelled, clock, timeout_s)
    bus.close()
    troubles += await _ended("subscriber", list(subscribers), clock, timeout_s)
    if journal is not None:
        closing = asyncio.create_task(asyncio.to_thread(journal), name="journal")
        troubles += await _ended("record", [closing], clock, timeout_s)
    if port is not None:
        troubles += await _ended("port", [asyncio.ensure_future(port())], clock, timeout_s)
    return troubles


async def _ended(what: str, tasks: list[asyncio.Future[Any]], clock: Clock, timeout_s: float) -> list[str]:
    """Wait for all of ``tasks``, at most ``timeout_s``; cancel the rest; say what went wrong."""
    if not tasks:
        return []
    timer: asyncio.Future[Any] = asyncio.ensure_future(clock.sleep_until(clock.now_s() + timeout_s))
    waiting = set(tasks)
    while waiting and not timer.done():
        done, _ = await asyncio.wait({*waiting, timer}, return_when=asyncio.FIRST_COMPLETED)
        waiting -= done
    timer.cancel()
    troubles = []
    for task in tasks:
        name = f"{what} {task.get_name()}" if isinstance(task, asyncio.Task) else what
        if task in waiting:
            task.cancel()
            troubles.append(f"{name} did not end within {timeout_s:g} s")
        elif not task.cancelled() and (error := task.exception()) is not None:
            troubles.append(f"{name} ended with {type(error).__name__}: {error}")
    for _ in range(3):  # let the cancelled ones clean up; one that refuses to end must not hold up the rest
        await asyncio.sleep(0)
    return troubles
