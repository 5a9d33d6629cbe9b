"""From the wire to the alarm's line, for each driver: the hardware's double on its real line, and ``longlace watch --plain``.

Five houses stand with their lamps lit; a dowser opens (heat in the gate) and shuts again, so many times. Measured is from
just before the contact changes until the alarm's line has come out of the program. Contacts change at moments that have
nothing to do with the driver's own beat: Modbus modules are asked every 50 ms. The station's adapter is serial, its
broker mosquitto. A pty carries bytes at once: a slow serial line adds its own time to these.
"""

from __future__ import annotations

import json
import random
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

from benchmarks._driver_hardware import (
    DOWSER,
    HOUSES,
    SIGNALS,
    Hardware,
    OnGpio,
    OnRtu,
    OnSerial,
    OnStation,
    OnTcp,
    levels,
)
from benchmarks._pty_watch import Watch, at, one, parts
from benchmarks._pty_wire import World, now
from benchmarks._row import Row, run

TIMES = 50
"""Alarms of each house."""
PAUSE_S = (0.01, 0.06)


def show_text(spec: str) -> str:
    """Tomorrow's show, its machines threaded."""
    start = datetime.fromtimestamp(time.time() + 86_400.0, UTC).isoformat(timespec="seconds")
    ids = [str(h + 1) for h in range(HOUSES)]
    chain = ", ".join(f'"{h}"' for h in ids)
    return "\n".join(
        [
            '[show]\ntitle = "Five gates"\nfilm = "35mm-4p"\nfps = 24\ntimezone = "Etc/UTC"\nfirst_picture = "18+00"',
            f"motor_start = {start}\nchain = [{chain}]",
            '[[part]]\nname = "The Tide Clerk"\nkind = "feature"\nframes = 9000',
            '[[part]]\nname = "tail"\nkind = "tail"\nframes = 4000',
            *[f'[[house]]\nid = "{h}"' for h in ids],
            *[
                f'[[link]]\nfrom = "{a}"\nto = "{b}"\npath = "60 ft"\nrollers = 4\ntight = "2 s"\nspill = "2 s"'
                for a, b in pairwise(ids)
            ],
            f'[[adapter]]\nname = "north"\n{spec}{levels()}',
        ]
    )


def latencies(kind: type[Hardware], times: int = TIMES) -> list[float]:
    """Seconds from the contact to the alarm's line."""
    chance = random.Random(5)
    with tempfile.TemporaryDirectory() as name:
        hardware = kind(Path(name))
        try:
            text = show_text(hardware.spec())
            with Watch(Path(name), text, hardware.program, hardware.pass_fds) as watch:
                world = World(hardware.adapters, watch.output)
                hardware.begin()
                lit = [b'"house":"%d"' % (h + 1) for h in range(HOUSES)]

                def known() -> bool:
                    said = [line for _, line in world.lines() if b'"lamp":true' in line]
                    return all(any(h in line for line in said) for h in lit)

                world.run(known, 20.0, f"{hardware.name}: its houses known")
                settle_s = now() + 1.0
                world.run(lambda: now() > settle_s, 5.0, "settled")
                seconds = _dowsers(world, hardware, times, chance)
                watch.end()
        finally:
            hardware.end()
    return seconds


def _dowsers(world: World, hardware: Hardware, times: int, chance: random.Random) -> list[float]:
    """Every house's dowser opens and shuts so many times, each after the other was seen. Seconds from opening to alarm."""
    opened: dict[str, float] = {}
    seconds: list[float] = []
    left = dict.fromkeys([str(h + 1) for h in range(HOUSES)], times)

    def turn(house: str, is_open: bool) -> None:
        bit = len(SIGNALS) * (int(house) - 1) + DOWSER
        at_s = hardware.change(bit, is_open)
        if is_open:
            opened[house] = at_s

    def hear(at_s: float, line: bytes) -> None:
        if b'"kind":"alarm"' not in line:
            return
        alarm = json.loads(line)
        house = alarm["subject"]
        if alarm["code"] != "gate-heat":
            raise AssertionError(f"an alarm that has no place here: {line!r}")
        tripped = alarm["state"] == "unacknowledged"
        if tripped:
            seconds.append(at_s - opened.pop(house))
        else:
            left[house] -= 1
        if tripped or left[house]:
            # Evenly over a round of the slowest driver: it is not in step with what it is shown.
            world.at(now() + chance.uniform(*PAUSE_S), lambda: turn(house, not tripped))

    world.hear = hear
    for house in left:
        world.at(now() + chance.uniform(*PAUSE_S), lambda house=house: turn(house, is_open=True))  # type: ignore[misc]
    world.run(lambda: not any(left.values()), 20.0 + times * 1.0, f"{hardware.name}: dowsers")
    return seconds


def measure() -> Iterator[Row]:
    for kind in (OnSerial, OnGpio, OnRtu, OnTcp, OnStation):
        seconds = latencies(kind)
        name = f"contact to alarm, {kind.name}"
        yield Row(name=f"{name}, median", unit="ms", ours=parts(0.5, seconds, 5))
        yield Row(name=f"{name}, p99", unit="ms", ours=one(at(0.99, seconds)))


if __name__ == "__main__":
    run(measure)
