"""What an adapter of four houses says in some minutes, as bytes of wire.md, with the second at which each line came in."""

from __future__ import annotations

import random

from drivers.ticks import TickClock
from drivers.wire import SEQ_MODULUS, Pulses, encode
from drivers.wire_parser import Parser

LATE_S = 0.02
"""A line comes in up to this much late."""
CRYSTAL = 40e-6


def wire_lines(count: int, seed: int = 8) -> list[tuple[float, bytes]]:
    """``count`` lines, five ``CT`` to two ``LV``, as (desk second of receipt, line)."""
    chance = random.Random(seed)
    lines: list[tuple[float, bytes]] = []
    for n in range(count):
        ms = 91_000 + n * 70
        seq = n % SEQ_MODULUS
        if n % 7 in (2, 5):
            line = encode("LV", seq, ms, f"{chance.randrange(1 << 16):04X}")
        else:
            pulses = [(int(ms * 0.024) - k, ms - chance.randrange(1, 42)) for k in range(4)]
            line = encode("CT", seq, ms, *(f"{c}@{t}" for c, t in pulses))
        lines.append((5.0 + ms / 1000.0 * (1.0 + CRYSTAL) + chance.random() * LATE_S, line))
    return lines


def dated(heard: list[tuple[float, bytes]]) -> list[float]:
    """What the driver makes of them: the lines parsed, every tick mapped; the desk second of every pulse."""
    parser, clock = Parser(), TickClock()
    pulses_s: list[float] = []
    for at_s, data in heard:
        for line in parser.feed(data):
            clock.feed(line.tick, at_s)
            if isinstance(line, Pulses):
                pulses_s += [clock.to_s(tick) for _, tick in line.counters]
            else:
                clock.to_s(line.tick)
    if parser.tally.lines != len(heard) or parser.tally.bad:
        raise AssertionError(parser.tally)
    return pulses_s
