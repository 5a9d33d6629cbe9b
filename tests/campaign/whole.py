"""One show of a seed through the asynchronous whole: lines as bytes, serial driver, bus, fold, record; in virtual time.

The parts are the program's own: :class:`drivers.serial_line.SerialDriver` under its supervision, the bus, the running desk
with its tasks, the journal's writer with its thread and its file. Only the ports' threads are played (``ports.py``), and
time with the order of wake-ups (``virtual_loop.py``). Ticks and counters wrap in half of the shows.
"""

from __future__ import annotations

import asyncio
import random
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from unittest.mock import patch

import msgspec

import drivers.serial_line
from drivers.simulator.truth import TrueEvent
from drivers.simulator.wire_line import WireBooth
from interlock.journal import JournalWriter, Record, RecordMeta
from interlock.service.booth import sim_spec
from interlock.service.drivers_run import run_drivers
from interlock.service.running import RunningDesk
from interlock.showfile.show import Show
from interlock.signals import AdapterSpec, Reading
from interlock.watch.inputs import Input
from interlock.watch.state import Line
from tests.campaign.booths import WALL_S, make_show
from tests.campaign.drive import AFTER_S, BEGIN_S, LONGEST_S, Run, word
from tests.campaign.mischief import make_scenario
from tests.campaign.ports import Lines, VirtualPort, wrap_counters
from tests.campaign.virtual_loop import LoopClock, VirtualLoop

LOOK_S = 0.25
"""How often the wall clock's faults and the end of the show are looked for."""
SAID = ("action", "house", "n_fr", "by")
SHM = Path("/dev/shm")


@dataclass
class Whole(Run):
    """A run with what was seen on its way, from the drivers to the record."""

    emitted: list[Reading] = field(default_factory=list)
    """What the drivers said."""
    published: list[Input] = field(default_factory=list)
    """What another subscriber of the bus was given."""
    recorded: list[Input] = field(default_factory=list)
    recorded_lines: list[Line] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    """What the parts themselves say that went wrong."""
    bytes_read: int = 0
    reads: int = 0
    shuffled: int = 0
    held_up: int = 0
    first_tick: int = 0


def run_whole(seed: int) -> Whole:
    """Make the show of ``seed`` and run the whole desk through it."""
    rng = random.Random(f"whole {seed}")
    show_rng = random.Random(seed)
    show = _wired(make_show(show_rng))
    scenario = make_scenario(show_rng, show)
    wrapped = rng.random() < 0.5
    first_tick = (1 << 32) - rng.randrange(1000, 150_000) if wrapped else 0
    booth = WireBooth(
        sim_spec(show), seed, scenario, base_s=-BEGIN_S, begin_s=BEGIN_S, history=True, first_tick=first_tick
    )
    if wrapped and rng.random() < 0.7:
        wrap_counters(booth, (1 << 32) - rng.randrange(1, 1500))
    run = Whole(seed, show, scenario, booth, [], [], first_tick=first_tick)
    shm = str(SHM) if SHM.is_dir() else None
    with tempfile.TemporaryDirectory(prefix="whole", dir=shm) as folder:
        record = Path(folder) / "show.longlace"
        loop = VirtualLoop(rng)
        with asyncio.Runner(loop_factory=lambda: loop) as runner:
            runner.run(_desk(run, loop, record))
        run.wrong += loop.failures
        run.shuffled, run.held_up = loop.shuffled, loop.held_up
        _read_back(run, record)
    return run


def _wired(show: Show) -> Show:
    """The same booth with its adapters on serial lines."""
    specs = tuple(
        AdapterSpec(a.name, "serial", {"port": f"/dev/virtual-{a.name}"}, a.wiring) for a in show.adapters
    )
    return msgspec.structs.replace(show, adapters=specs)


async def _desk(run: Whole, loop: VirtualLoop, record: Path) -> None:
    clock = LoopClock(loop, WALL_S + BEGIN_S)
    lines = Lines(run.booth, loop)  # type: ignore[arg-type]
    loop.outside = lines
    desk = RunningDesk(run.show, clock, record=record, life=clock)
    meta = RecordMeta(
        "campaign.toml",
        f"# seed {run.seed}\n",
        run.show.title,
        "0",
        "3",
        "UTC",
        WALL_S,
        False,
        run.seed,
        None,
    )
    writer = JournalWriter.create(record, meta, on_health=desk.health, clock=clock)
    desk.journal = writer
    heard, told = desk.bus.inputs.lossless("witness"), desk.bus.lines.lossless("witness")
    with patch.object(drivers.serial_line, "PortThread", partial(VirtualPort, lines)):
        serving = [(a, drivers.serial_line.SerialDriver(a, clock)) for a in run.show.adapters]

        def read(emit: Callable[[Input], None]) -> Sequence[asyncio.Task[None]]:
            def both(reading: Reading) -> None:
                run.emitted.append(reading)
                emit(reading)

            crew = asyncio.create_task(_crew(run, desk, clock, lines), name="crew")
            return [crew, *run_drivers(serving, clock, both)]

        await desk.run(read)
    run.published, run.lines = heard.drain(), told.drain()
    run.wrong += desk.troubles
    if desk.folding.faults:
        run.wrong.append(f"the desk failed on {desk.folding.faults} inputs")
    for channel in (desk.bus.inputs, desk.bus.lines):
        if channel.late:
            run.wrong.append(f"{channel.late} {channel.name} came when the bus was closed")
    stats = writer.stats()
    if stats.lost or stats.rows_waiting or stats.failing:
        run.wrong.append(f"the record lost {stats.lost} and left {stats.rows_waiting} waiting: {stats.text}")
    run.bytes_read = sum(end.bytes_read for end in lines.ends.values())
    run.reads = sum(end.reads for end in lines.ends.values())


async def _crew(run: Whole, desk: RunningDesk, clock: LoopClock, lines: Lines) -> None:
    """Says what it does when it does it, sets the wall clock, and ends the watch when the show is over."""
    loop = asyncio.get_running_loop()

    def says(event: TrueEvent) -> None:
        if (said := word(run.booth, event)) is not None:
            keys = {k: v for k, v in msgspec.structs.asdict(said).items() if v is not None and k in SAID}
            loop.call_at(said.at_s, desk.act, msgspec.json.encode(keys))

    lines.happens = says
    steps = sorted(run.scenario.clock_steps)
    still_s: float | None = None
    while True:
        now_s = clock.now_s()
        while steps and steps[0][0] - BEGIN_S <= now_s:
            clock.wall_offset_s += steps.pop(0)[1]
        still_s = (now_s if still_s is None else still_s) if run.booth.room.idle else None
        if now_s > LONGEST_S - BEGIN_S or (still_s is not None and now_s - still_s > AFTER_S):
            desk.end("the show is over")
            return
        await clock.sleep_until(now_s + LOOK_S)


def _read_back(run: Whole, path: Path) -> None:
    with Record.open(path) as record:
        verdict = record.verify()
        run.inputs = run.recorded = [x for _, x in record.inputs()]
        run.recorded_lines = [line for _, line in record.lines()]
        run.wrong += [f"the record: {problem.text}" for problem in verdict.problems]
        if not (verdict.ok and verdict.ended):
            run.wrong.append(f"the record is not whole and ended: {verdict.sentence}")
