"""200,000 events to four lossless subscribers, the bus beside its peers: microseconds of processor an event.

Events come in bursts of 100, as readings do when a port is read; between bursts the subscribers may run.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import time
from collections.abc import Callable, Iterator

from benchmarks._bus_peers import CALLS_BACK, OURS, PEERS, FanOut
from benchmarks._row import Row, beside, interleaved, run

EVENTS = 200_000
SUBSCRIBERS = 4
BURST = 100
ROUNDS = 3


async def events_through(fan_out: FanOut, events: int) -> float:
    """Processor seconds from the first publish until everybody has had the last."""
    # All the work of a subscriber is to keep the event: what is measured is the bus.
    got: list[list[int]] = [[] for _ in range(SUBSCRIBERS)]

    async def drive(publish: Callable[[int], object]) -> None:
        for event in range(events):
            publish(event)
            if event % BURST == BURST - 1:
                await asyncio.sleep(0)

    gc.disable()  # or it would walk through the million events that are kept
    start = time.process_time()
    await fan_out([kept.append for kept in got], drive)
    took = time.process_time() - start
    gc.enable()
    if any(kept != list(range(events)) for kept in got):
        raise AssertionError("events were lost, doubled or out of order")
    return took


def measure() -> Iterator[Row]:
    logging.disable(logging.CRITICAL)

    def way(fan_out: FanOut, events: int) -> Callable[[], float]:
        return lambda: asyncio.run(events_through(fan_out, events)) / events * 1e6

    found = interleaved(
        {name: way(fan_out, max(BURST, int(EVENTS * share))) for name, (fan_out, share) in PEERS.items()},
        ROUNDS,
    )
    for name, (_, share) in PEERS.items():
        if name != OURS:
            yield beside(
                f"bus, {EVENTS:,} events to {SUBSCRIBERS} lossless subscribers",
                "µs an event",
                found[OURS],
                name if share == 1.0 else f"{name}, {int(EVENTS * share):,} events",
                found[name],
                at_least=2.0 if name == "asyncio.Queue" else 1.0,
                held_back=CALLS_BACK if "calls back" in name else "",
            )


if __name__ == "__main__":
    run(measure)
