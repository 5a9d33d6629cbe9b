"""What holds for every test: nothing that it started goes on after it.

A task that is still pending and a thread that still runs belong to a test that has ended: whatever
they do next happens to another one. Both are errors here. (Files, sockets and event loops that were
not closed are errors too: pytest makes their warnings errors, see pyproject.toml.)
"""

from __future__ import annotations

import asyncio
import signal
import threading
import time
from collections.abc import AsyncIterator, Iterator

import pytest

# A suite that was started in the background of a script has SIGINT ignored, and so would every program that it starts:
# but Ctrl-C is one of the things that are tested.
signal.signal(signal.SIGINT, signal.default_int_handler)

THREAD_PATIENCE_S = 2.0  # a reader thread that was told to end may still be in its last read


@pytest.fixture(autouse=True)
def _no_leaked_threads() -> Iterator[None]:
    before = set(threading.enumerate())
    yield
    patience_ends_s = time.monotonic() + THREAD_PATIENCE_S
    for thread in set(threading.enumerate()) - before:
        thread.join(max(0.0, patience_ends_s - time.monotonic()))
    left = sorted(t.name for t in set(threading.enumerate()) - before if t.is_alive())
    if left:
        pytest.fail(f"the test left {len(left)} thread(s) running: {', '.join(left)}", pytrace=False)


@pytest.fixture(autouse=True)
def _no_leaked_tasks(request: pytest.FixtureRequest, _no_leaked_threads: None) -> None:
    # Only where there is a loop: an async fixture that is autouse would give every test one.
    if request.node.get_closest_marker("asyncio"):
        request.getfixturevalue("_watch_tasks")


@pytest.fixture
async def _watch_tasks() -> AsyncIterator[None]:
    yield
    for _ in range(3):  # what was cancelled or set free in the last step may still take it
        await asyncio.sleep(0)
    left = [t for t in asyncio.all_tasks() if t is not asyncio.current_task()]
    if left:
        stories = "\n".join(f"  {t.get_name()}: {t.get_coro()!r}" for t in left)
        pytest.fail(f"the test left {len(left)} task(s) pending:\n{stories}", pytrace=False)
