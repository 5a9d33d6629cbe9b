"""Publish to receive at 2,000 events a second, four subscribers, 99th percentile, the bus beside its peers in the same run."""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable, Iterator

from benchmarks._bus_peers import OURS, PEERS, FanOut
from benchmarks._row import Row, beside, interleaved, run

RATE = 2_000
SECONDS = 1.0
ROUNDS = 3
SLOWEST = {"bubus": 0.05}
"""Seconds of events for a peer that does not keep up with the rate: its delays grow as long as one publishes."""
LIKE = 1.1
"""Two figures of a few hundredths of a millisecond that differ by less than this are the same."""


async def delays(fan_out: FanOut, seconds: float) -> float:
    """The 99th percentile of every delay of every subscriber, in ms."""
    found: list[float] = []
    keep, now = found.append, time.perf_counter

    def take(sent: float) -> None:
        keep(now() - sent)

    async def drive(publish: Callable[[float], object]) -> None:
        start = now()
        for n in range(int(RATE * seconds)):
            if (wait := start + n / RATE - now()) > 0:
                await asyncio.sleep(wait)
            publish(now())

    await fan_out([take] * 4, drive)
    return sorted(found)[len(found) * 99 // 100] * 1e3


def measure() -> Iterator[Row]:
    logging.disable(logging.CRITICAL)

    def way(name: str, fan_out: FanOut) -> Callable[[], float]:
        return lambda: asyncio.run(delays(fan_out, SLOWEST.get(name, SECONDS)))

    found = interleaved({name: way(name, fan_out) for name, (fan_out, _) in PEERS.items()}, ROUNDS)
    ours = found[OURS]
    for name, theirs in found.items():
        if name != OURS:
            yield beside(
                f"bus, publish to receive at {RATE:,} events/s",
                "p99 ms",
                ours,
                name,
                theirs,
                at_least=1 / LIKE if name == "asyncio.Queue" else None,
                target="no later, within a tenth" if name == "asyncio.Queue" else "",
            )


if __name__ == "__main__":
    run(measure)
