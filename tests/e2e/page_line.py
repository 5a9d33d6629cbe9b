"""The line as the page on it says, from the page alone: this shares no code with the program that reads it."""

from __future__ import annotations

TICKS = 1 << 32
SEQS = 1 << 16


def crc_ibm_3740(data: bytes) -> int:
    """Bit by bit, as the page says it: polynomial 0x1021, initial value 0xFFFF, nothing reflected, no final xor."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ 0x1021) & 0xFFFF if crc & 0x8000 else crc << 1
    return crc


def make_line(kind: str, seq: int, tick: int, *fields: str) -> bytes:
    """One line, with its LF."""
    body = " ".join((kind, str(seq), str(tick), *fields)).encode("ascii")
    return b"%s*%04X\n" % (body, crc_ibm_3740(body))
