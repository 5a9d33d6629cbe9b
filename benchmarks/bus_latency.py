"""Publish to receive at 2,000 events a second, four subscribers: milliseconds, the bus beside its peers in the same run.

Fails (exit 1) if the bus's 99th percentile is later than the latest that ``asyncio.Queue`` showed in any round.
"""

from __future__ import annotations

import asyncio
import logging
import statistics
import sys
import time
from collections.abc import Callable

from benchmarks._bus_peers import PEERS, FanOut

RATE = 2_000
SECONDS = 1.5
ROUNDS = 5
TOO_SLOW = {"bubus"}
"""Peers that do not keep up with the rate at all; named as such."""


async def run(fan_out: FanOut) -> list[float]:
    """Every delay of every subscriber, in seconds."""
    delays: list[float] = []
    keep, now = delays.append, time.perf_counter

    def take(sent: float) -> None:
        keep(now() - sent)

    async def drive(publish: Callable[[float], object]) -> None:
        start = now()
        for n in range(int(RATE * SECONDS)):
            if (wait := start + n / RATE - now()) > 0:
                await asyncio.sleep(wait)
            publish(now())

    await fan_out([take] * 4, drive)
    return delays


def main() -> int:
    logging.disable(logging.CRITICAL)
    names = [name for name in PEERS if name not in TOO_SLOW]
    p50: dict[str, list[float]] = {name: [] for name in names}
    p99: dict[str, list[float]] = {name: [] for name in names}
    for _ in range(ROUNDS):
        for name in names:
            delays = sorted(asyncio.run(run(PEERS[name][0])))
            p50[name].append(delays[len(delays) // 2] * 1e3)
            p99[name].append(delays[len(delays) * 99 // 100] * 1e3)
    base = statistics.median(p99["asyncio.Queue"])
    print(f"{'':24}{'p50 ms':>9}{'p99 ms':>9} {'least … most p99':>20} {'of asyncio.Queue':>18}")
    for name in names:
        spread = f"{min(p99[name]):.4f} … {max(p99[name]):.4f}"
        print(
            f"{name:24}{statistics.median(p50[name]):9.4f}{statistics.median(p99[name]):9.4f} {spread:>20} "
            f"{statistics.median(p99[name]) / base:16.2f} ×"
        )
    print(f"not measured, being too slow for the rate: {', '.join(sorted(TOO_SLOW))}")
    return int(statistics.median(p99["longlace, drained"]) > max(p99["asyncio.Queue"]))


if __name__ == "__main__":
    sys.exit(main())
