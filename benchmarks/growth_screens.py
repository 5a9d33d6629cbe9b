"""How the desk's cost grows with the screens attached: 1 to 16, real Unix sockets, a reader of another process behind each."""

from __future__ import annotations

import asyncio
import multiprocessing
import select
import socket
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from benchmarks._booth import LEAD_S, make_show, readings
from benchmarks._row import Growth, interleaved, linearity, run
from interlock.bus import Bus
from interlock.clock import VirtualClock
from interlock.service.folding import Folding
from interlock.service.screens import FRESH_S, Screens
from interlock.service.sockets import listen
from interlock.showfile.show import Show
from interlock.watch.board import layout
from interlock.watch.inputs import Input

HOUSES = 16
SCREENS = (1, 2, 4, 8, 16)
FROM_S, STRETCH_S = 60.0, 20.0
"""Plan time: all machines at speed, and so long of it."""
ROUNDS = 2


def look_on(path: str, screens: int) -> None:
    """So many screens that read everything and draw nothing; ends when the desk is gone."""
    open_ones: list[socket.socket] = []
    for _ in range(screens):
        screen = socket.socket(socket.AF_UNIX)
        screen.connect(path)
        open_ones.append(screen)
    while open_ones:
        for ready in select.select(open_ones, [], [])[0]:
            if not ready.recv(1 << 20):
                open_ones.remove(ready)
                ready.close()


async def desk_ms(show: Show, heard: list[Input], screens: int, path: Path) -> float:
    """ms of processor of the desk's own thread, a second of show, with everything that it folds and sends."""
    clock = VirtualClock(0.0, show.motor_start_wall_s - LEAD_S)
    bus = Bus(clock)
    folding = Folding(show, clock, bus, rehearsal=True)
    served = Screens(folding, bus, layout(show, rehearsal=True), lambda text: None, clock)
    folding.start()
    server = await listen(path, served.serve)
    tasks = [asyncio.create_task(served.feed()), asyncio.create_task(served.refresh())]
    readers = multiprocessing.get_context("spawn").Process(target=look_on, args=(str(path), screens))
    if screens:
        readers.start()
    while len(served.here) < screens:  # noqa: ASYNC110 - nobody tells when a screen has come
        await asyncio.sleep(0.01)
    used_s, n = 0.0, 0
    while n < len(heard):
        start, to_s = time.thread_time(), clock.now_s() + FRESH_S
        while n < len(heard) and heard[n].at_s <= to_s:
            bus.inputs.publish(heard[n])
            n += 1
        folding.pump()
        await clock.advance_to(to_s)
        while any(screen.behind[0] for screen in served.here):  # noqa: ASYNC110 - nor when it has had all
            await asyncio.sleep(0)
        if to_s > LEAD_S + FROM_S:
            used_s += time.thread_time() - start
        await asyncio.sleep(0)
    served.end("the benchmark is over")
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    server.close()
    while served.here:
        await clock.advance_to(clock.now_s() + 0.1)
        await asyncio.sleep(0.01)
    if screens:
        readers.join()
    return used_s / STRETCH_S * 1e3


def measure() -> Iterator[Growth]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        show = make_show(folder, HOUSES)
        heard = readings(show, FROM_S + STRETCH_S)
        found = interleaved(
            {
                str(n): lambda n=n: asyncio.run(desk_ms(show, heard, n, folder / "socket"))  # type: ignore[misc]
                for n in (0, *SCREENS)
            },
            ROUNDS,
        )
    points = [(float(n), found[str(n)].median) for n in SCREENS]
    alone = found["0"].median
    each = (points[-1][1] - points[0][1]) / (SCREENS[-1] - SCREENS[0])
    yield Growth(
        name="Screens attached", x="screens", y="ms of processor a second of show", lines={"desk": points},
        sentence=f"The whole desk, fold included: {linearity(points)}. Without a screen it is {alone:.2f} ms, the first brings "
        f"it to {points[0][1]:.2f}, each one more adds {each:.2f}: lines and states are made and encoded once for all, "
        "and only written once a screen.",
    )  # fmt: skip


if __name__ == "__main__":
    run(measure)
