"""The adapter line, version 1: what a line can say, and a line as bytes. :mod:`drivers.wire_parser` reads them.

A line is ``KIND SEQ TICK FIELD… * CRC LF`` in printable ASCII, at most 255 bytes with its LF.

The CRC is CRC-16/IBM-3740, which the standard library has as ``binascii.crc_hqx(data, 0xFFFF)``.
"""

from __future__ import annotations

from binascii import crc_hqx
from typing import TypeAlias

import msgspec

MAX_LINE = 255
"""Bytes of a line, its LF among them."""
MAX_COUNTERS = 10
SEQ_MODULUS = 1 << 16
TICK_MASK = 0xFFFFFFFF
ANALOG_MAX = 4095


class _Line(msgspec.Struct, frozen=True, gc=False):
    """``tick``: the adapter's ms, 32 bits. ``lost``: lines that are missing directly before this one."""

    seq: int
    tick: int
    lost: int


class Hello(_Line, frozen=True, gc=False):
    """``HI``. ``re``: the SEQ of the ``ID`` that it answers, None if it was not asked for (a restart).

    Of a ``version`` other than 1 only ``name`` and ``re`` are tried, and the sizes are 0.
    """

    version: int
    name: str
    levels: int
    counters: int
    analogs: int
    re: int | None = None


class Levels(_Line, frozen=True, gc=False):
    """``LV``. Bit k of ``mask``: level input k is closed; ``width``: how many bits were told."""

    mask: int
    width: int


class Pulses(_Line, frozen=True):
    """``CT``. ``counters``: (pulses since power-up, tick of the latest), both 32 bits."""

    counters: tuple[tuple[int, int], ...]


class Raws(_Line, frozen=True):
    """``AN``. ``raws``: 0…4095 each."""

    raws: tuple[int, ...]


class Unknown(_Line, frozen=True, gc=False):
    """A kind that this version does not know. The line is whole, so the adapter lives."""

    kind: str


class Ask(_Line, frozen=True, gc=False):
    """``ID``, from a computer. An adapter never sends it: heard on a line that echoes, it proves nothing."""


Line: TypeAlias = Hello | Levels | Pulses | Raws | Unknown | Ask


def encode(kind: str, seq: int, tick: int, *fields: str) -> bytes:
    """The line as bytes with its CRC and LF; ``ValueError`` for what would be no line."""
    if len(kind) != 2 or not all("A" <= c <= "Z" for c in kind):
        raise ValueError(f"a kind is two capital letters, not {kind!r}")
    if not (0 <= seq < SEQ_MODULUS and 0 <= tick <= TICK_MASK):
        raise ValueError(f"SEQ is 0…65535 and TICK is 0…4294967295, not {seq} and {tick}")
    for field in fields:
        if not field or not field.isascii() or not field.isprintable() or " " in field or "*" in field:
            raise ValueError(f"a field is printable ASCII without spaces and *, not {field!r}")
    body = " ".join((kind, str(seq), str(tick), *fields)).encode("ascii")
    line = b"%b*%04X\n" % (body, crc_hqx(body, 0xFFFF))
    if len(line) > MAX_LINE:
        raise ValueError(f"a line is at most {MAX_LINE} bytes, not {len(line)}")
    return line
