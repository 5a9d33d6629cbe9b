"""A small show with a driver that says what the test tells it to, and a desk around it."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from interlock.clock import Clock, SystemClock
from interlock.service.place import Lock, Place
from interlock.service.running import RunningDesk
from interlock.showfile.show import House, Link, Part, Show
from interlock.signals import AdapterSpec, Contacts, Wiring
from interlock.watch.inputs import Input


def make_show(wall_s: float, path: str = "/nowhere/show.toml") -> Show:
    """Two houses on one adapter; the motors start in a minute."""
    return Show(
        title="Two gates",
        film_key="35mm-4p",
        fps=24.0,
        motor_start_wall_s=wall_s + 60.0,
        timezone="UTC",
        first_picture_fr=288.0,
        parts=(Part("one", "feature", 2880, 0), Part("tail", "tail", 600, 2880)),
        houses=(House("1", "House 1"), House("2", "House 2")),
        links=(Link("1", "2", 200.0, tight_fr=48.0, spill_fr=48.0),),
        adapters=(AdapterSpec("north", "told", {}, Wiring({0: "1.run", 1: "2.run", 2: "1.lamp"})),),
        path=path,
    )


def contacts(at_s: float, *, run: bool = False, lamp: bool = False) -> Contacts:
    """What the adapter says of both houses."""
    return Contacts(at_s, at_s, "north", (("1.run", run), ("2.run", run), ("1.lamp", lamp)))


class Journal:
    """Keeps what it is given, as the record does."""

    def __init__(self, order: list[str] | None = None) -> None:
        self.puts: list[tuple[Input, list[object]]] = []
        self.order = order if order is not None else []
        self.closed = False

    def put(self, input: Input, lines: list[object]) -> None:  # noqa: A002 - as the record has it
        assert not self.closed
        self.puts.append((input, list(lines)))

    def flush(self) -> bool:
        return True

    def close(self) -> str:
        self.closed = True
        self.order.append("journal")
        return "head"


@asynccontextmanager
async def running(
    folder: Path, clock: Clock | None = None, *, rehearsal: bool = False, speaks: bool = True
) -> AsyncIterator[tuple[RunningDesk, Place, Journal]]:
    """A desk that runs in real time with an adapter that speaks every 50 ms, ended on leaving."""
    clock = clock if clock is not None else SystemClock()
    show = make_show(clock.wall_s(), str(folder / "show.toml"))
    place = Place(show.path, rehearsal=rehearsal, folder=folder)
    lock = Lock(place)
    lock.take(show.title)
    desk = RunningDesk(show, clock, rehearsal=rehearsal)
    journal = Journal()
    desk.journal = journal
    await desk.open(lock)

    async def speak(emit: Callable[[Input], None]) -> None:
        while True:
            if speaks:
                emit(contacts(clock.now_s()))
            await clock.sleep_until(clock.now_s() + 0.05)

    run = asyncio.create_task(desk.run(lambda emit: [asyncio.create_task(speak(emit), name="north")]))
    try:
        yield desk, place, journal
    finally:
        desk.end("the test is over")
        await run
        lock.release()
        assert desk.troubles == []
