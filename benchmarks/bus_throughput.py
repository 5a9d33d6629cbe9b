"""200,000 events to four lossless subscribers, the bus beside its peers in the same run: microseconds an event.

Events come in bursts of 100, as readings do when a port is read; between bursts the subscribers may run. Fails (exit 1) if
the bus, drained, is not at least twice as fast as ``asyncio.Queue``, or not ahead of all that deliver to a subscriber's own task.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import statistics
import sys
import time
from collections.abc import Callable

from benchmarks._bus_peers import PEERS, FanOut

EVENTS = 200_000
SUBSCRIBERS = 4
BURST = 100
ROUNDS = 7


async def run(fan_out: FanOut, events: int) -> float:
    """Seconds from the first publish until everybody has had the last."""
    # All the work of a subscriber is to keep the event: what is measured is the bus.
    got: list[list[int]] = [[] for _ in range(SUBSCRIBERS)]

    async def drive(publish: Callable[[int], object]) -> None:
        for event in range(events):
            publish(event)
            if event % BURST == BURST - 1:
                await asyncio.sleep(0)

    gc.disable()  # or it would walk through the million events that are kept
    start = time.perf_counter()
    await fan_out([kept.append for kept in got], drive)
    took = time.perf_counter() - start
    gc.enable()
    if any(kept != list(range(events)) for kept in got):
        raise AssertionError("events were lost, doubled or out of order")
    return took


def main() -> int:
    logging.disable(logging.CRITICAL)
    micros: dict[str, list[float]] = {name: [] for name in PEERS}
    failed: dict[str, str] = {}
    for _ in range(ROUNDS):
        for name, (fan_out, share) in PEERS.items():
            events = max(BURST, int(EVENTS * share))
            gc.collect()
            try:
                micros[name].append(asyncio.run(run(fan_out, events)) / events * 1e6)
            except (AssertionError, RuntimeError) as error:
                failed[name] = str(error).splitlines()[0][:90]
    base = statistics.median(micros["asyncio.Queue"])
    ours = statistics.median(micros["longlace, drained"])
    print(f"{'':24}{'µs an event':>12} {'least … most':>20} {'of asyncio.Queue':>18}  events")
    for name, took in micros.items():
        if name in failed:
            print(f"{name:24}failed: {failed[name]}")
            continue
        middle = statistics.median(took)
        spread = f"{min(took):.3f} … {max(took):.3f}"
        print(
            f"{name:24}{middle:12.3f} {spread:>20} {base / middle:16.2f} ×  {int(EVENTS * PEERS[name][1]):,}"
        )
    own_task = [
        statistics.median(took)
        for name, took in micros.items()
        if name not in failed and not name.startswith("longlace") and "calls back" not in name
    ]
    return int(ours * 2 > base or ours >= min(own_task))


if __name__ == "__main__":
    sys.exit(main())
