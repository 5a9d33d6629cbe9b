"""Lines of the adapter's page and what they say; lines with a right sum; and what a parser counted as bad."""

from __future__ import annotations

from binascii import crc_hqx

from drivers.wire import Ask, Hello, Levels, Pulses
from drivers.wire_parser import Parser

# Source: the examples of wire.md, CRCs as computed there.
EXAMPLES = b"""HI 0 3 v1 north levels=12 counters=4 analogs=0*CBB0
LV 1 5 000*63EA
CT 2 103 0@0 0@0 0@0 0@0*D375
LV 41 8120 001*3252
LV 42 8262 009*9835
CT 43 8320 5@8309 1@8290 0@0 0@0*04C3
LV 44 8512 009*3A8F
ID 0 91733*8AFA
"""
PARSED = [
    Hello(0, 3, 0, 1, "north", 12, 4, 0),
    Levels(1, 5, 0, 0, 12),
    Pulses(2, 103, 0, ((0, 0),) * 4),
    Levels(41, 8120, 38, 1, 12),
    Levels(42, 8262, 0, 9, 12),
    Pulses(43, 8320, 0, ((5, 8309), (1, 8290), (0, 0), (0, 0))),
    Levels(44, 8512, 0, 9, 12),
    Ask(0, 91733, 0),
]


def with_crc(body: bytes) -> bytes:
    return b"%b*%04X\n" % (body, crc_hqx(body, 0xFFFF))


def opened() -> Parser:
    """A parser that is past the first piece after an opening."""
    parser = Parser()
    parser.feed(b"LV 0 1 0*%04X\n" % crc_hqx(b"LV 0 1 0", 0xFFFF))
    return parser


def bad(parser: Parser) -> dict[str, int]:
    tally = parser.tally
    causes = ("too_long", "bad_byte", "bad_crc", "bad_fields", "cut")
    return {c: n for c in causes if (n := getattr(tally, c))}
