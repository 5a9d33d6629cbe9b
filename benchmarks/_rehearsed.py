"""A rehearsal at full speed in a process of its own: its record, how long it took, and what memory it had on the way."""

from __future__ import annotations

import asyncio
import logging
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import msgspec

from benchmarks._booth import SEED
from interlock.service.compose import rehearsed
from interlock.service.config import Config
from interlock.service.rehearsal import LEAD_S, FastClock, run_fast
from interlock.service.shows import read_show

EVERY_S = 30.0
"""Of simulated time, between two looks at the memory."""


class Rehearsed(msgspec.Struct, frozen=True):
    """``memory``: (simulated second, MB resident). ``cpu_s``: processor seconds of the whole rehearsal."""

    memory: list[tuple[float, float]]
    most_mb: float
    wall_s: float
    cpu_s: float


def resident_mb() -> float:
    """Of this process, now; where /proc is not there, the most so far."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except OSError:
        return most_mb()
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def most_mb() -> float:
    """The most that this process ever had."""
    unit = 1.0 if sys.platform == "darwin" else 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


def rehearse_here(show: str, record: str | None, scenario: str | None, result: str) -> None:
    """As ``longlace rehearse --speed max``, and the memory every ``EVERY_S``."""
    logging.disable(logging.CRITICAL)
    memory: list[tuple[float, float]] = []

    async def run() -> None:
        made = read_show(show)
        clock = FastClock(0.0, made.motor_start_wall_s - LEAD_S)
        config = Config(show=show, journal=record, rehearsal=True, scenario=scenario, seed=SEED)
        desk, rehearsal = rehearsed(made, config, clock)
        box = desk.bus.lines.lossless("bench")

        async def each() -> None:
            box.drain()
            if not memory or clock.now_s() >= memory[-1][0] + EVERY_S:
                memory.append((clock.now_s(), resident_mb()))

        await run_fast(desk, rehearsal, clock, each)
        if desk.troubles:
            raise AssertionError(desk.troubles)

    wall, cpu = time.perf_counter(), time.process_time()
    asyncio.run(run())
    took = Rehearsed(memory, most_mb(), time.perf_counter() - wall, time.process_time() - cpu)
    Path(result).write_bytes(msgspec.json.encode(took))


def rehearse_apart(show: Path, record: Path | None, folder: Path, scenario: Path | None = None) -> Rehearsed:
    """The same in a process of its own, in which nothing is imported that the program does not need."""
    result = folder / f"{show.stem}.json"
    args = (str(show), str(record or ""), str(scenario or ""), str(result))
    subprocess.run([sys.executable, "-m", "benchmarks._rehearsed", *args], check=True)
    return msgspec.json.decode(result.read_bytes(), type=Rehearsed)


if __name__ == "__main__":
    _show, _record, _scenario, _result = sys.argv[1:]
    rehearse_here(_show, _record or None, _scenario or None, _result)
