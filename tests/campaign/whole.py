"""One show of a seed through the asynchronous whole: lines as bytes, serial driver, bus, fold, record; in virtual time.

The parts are the program's own: :class:`drivers.serial_line.SerialDriver` under its supervision, the bus, the running desk
with its tasks, the journal's writer with its thread and its file. Only the ports' threads are played (``ports.py``), and
time with the order of wake-ups (``virtual_loop.py``). Ticks and counters wrap in half of the shows.
"""

from __future__ import annotations

import asyncio
import random
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from pathlib import Path
from unittest.mock import patch

import msgspec

import drivers.serial_line
from drivers.simulator.truth import TrueEvent
from drivers.simulator.wire_line import WireBooth
from interlock.incident.recorded import refold
from interlock.journal import JournalWriter, Record, RecordMeta
from interlock.service.booth import sim_spec
from interlock.service.drivers_run import run_drivers
from interlock.service.running import RunningDesk
from interlock.showfile.show import Show
from interlock.signals import AdapterSpec, Counts, Presence, Reading
from interlock.watch.inputs import Anchor, Input, Tick
from interlock.watch.state import ErrorLine, Line, encode
from tests.campaign.booths import WALL_S, make_show
from tests.campaign.drive import AFTER_S, BEGIN_S, LONGEST_S, Run, word
from tests.campaign.mischief import make_scenario
from tests.campaign.oracle import Oracle
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


def findings_on_the_way(run: Whole) -> Iterator[str]:
    """Whatever was lost, doubled or changed between the wire and the record."""
    yield from run.wrong
    yield from _lines_lost(run)
    yield from _counted_right(run)
    yield from _on_the_way(run)
    yield from _replayed(run)


def findings_whole(run: Whole) -> Iterator[str]:
    """That, and what the campaign's oracle finds."""
    yield from findings_on_the_way(run)
    yield from Oracle(run).findings()


def _lines_lost(run: Whole) -> Iterator[str]:
    """No line is counted as bad or lost on a cable that loses none."""
    poor = {f.adapter for f in run.scenario.faults if f.kind in ("dropped", "damaged", "unplug")}
    last = {x.adapter: x for x in run.published if isinstance(x, Presence)}
    for name, x in sorted(last.items()):
        if name not in poor and (x.bad_lines or x.lost_lines):
            yield f"{name} is said to have sent {x.bad_lines} bad lines, and {x.lost_lines} were lost: none was"


def _counted_right(run: Whole) -> Iterator[str]:
    """When all stand at last, every counter has been counted to the frame, whatever has wrapped on the way."""
    anew = {f.adapter for f in run.scenario.faults if f.kind in ("restart", "restart-on-strike")}
    odd = {f.house for f in run.scenario.faults if f.kind in ("dead-counter", "pass-film")}
    true_fr = {m.house: m.frames for m in run.booth.room.truth().machines}
    for spec in run.show.adapters:
        told = [x for x in run.emitted if isinstance(x, Counts) and x.adapter == spec.name]
        if spec.name in anew or len(told) < 2 or not run.booth.room.idle:
            continue
        for (signal, first, _), (_, last, _) in zip(told[0].values, told[-1].values, strict=True):
            house = signal.split(".")[0]
            per_fr = next(c.frames_per_pulse for c in spec.wiring.counters.values() if c.signal == signal)
            if house not in odd and last - first != int(true_fr[house] / per_fr + 1e-9) * per_fr:
                yield f"{signal} was counted to {last - first:.0f}, and is {true_fr[house]:.2f}"


def _on_the_way(run: Whole) -> Iterator[str]:
    readings = [x for x in run.published if isinstance(x, Reading)]
    if readings != run.emitted:
        yield f"the drivers said {len(run.emitted)} readings, the bus handed on {len(readings)} or others"
    # The fold sorts what waits together by its time of receipt; within one adapter nothing may change its place.
    recorded = [x for x in run.recorded[1:] if not isinstance(x, Tick)]
    if not isinstance(run.recorded[0], Anchor):
        yield "the record does not begin with its anchor"
    there, gone = Counter(map(_form, recorded)), Counter(map(_form, run.published))
    for form in list((there - gone) + (gone - there))[:3]:
        yield f"between the bus and the record: {there[form]} instead of {gone[form]} of {form.decode()}"
    for spec in run.show.adapters:
        a, b = (
            [x for x in xs if getattr(x, "adapter", None) == spec.name] for xs in (recorded, run.published)
        )
        if a != b:
            yield f"the readings of {spec.name} are in the record in another order"
            break
    at = [x.at_s for x in run.recorded]
    if any(a > b + 1.0 for a, b in pairwise(at)):
        yield "the record goes back by more than a second"


def _form(x: Input) -> bytes:
    return msgspec.json.encode(x)


def _replayed(run: Whole) -> Iterator[str]:
    """The record's inputs, folded anew, say what was said; and the record kept the events of it."""
    said = (line for line in run.lines if not isinstance(line, ErrorLine))
    events: list[Line] = []
    for _, _, lines in refold(run.show, False, run.recorded):
        for line in lines:
            if not getattr(line, "periodic", False):
                events.append(line)
            first = next(said, None)
            if first is None or encode(first) != encode(line):
                yield f"its replay says {line} where it said {first}"
                return
    if (more := next(said, None)) is not None:
        yield f"its replay does not say {more}"
    if events != run.recorded_lines:
        yield "the lines in the record are not the events that were said"
