"""Bytes as they come, made into lines; nothing that comes in can make it raise.

What is damaged is dropped, counted by cause in :class:`Tally`, and reading goes on at the next LF.
"""

from __future__ import annotations

from binascii import crc_hqx

import msgspec

from drivers.wire import (
    ANALOG_MAX,
    MAX_COUNTERS,
    MAX_LINE,
    SEQ_MODULUS,
    TICK_MASK,
    Ask,
    Hello,
    Levels,
    Line,
    Pulses,
    Raws,
    Unknown,
)

_HEX = "0123456789abcdefABCDEF"


class Tally(msgspec.Struct):
    """What came in. ``lines``: whole ones, ``unknown`` ones among them. The rest was dropped, by cause:
    ``too_long``, ``bad_byte`` (outside 0x20…0x7E), ``bad_crc``, ``bad_fields`` (whole, but its fields do
    not fit its kind), ``cut`` (the first piece after an opening: we came in the middle of a line).
    """

    lines: int = 0
    unknown: int = 0
    too_long: int = 0
    bad_byte: int = 0
    bad_crc: int = 0
    bad_fields: int = 0
    cut: int = 0

    @property
    def bad(self) -> int:
        """Lines that the link or the adapter spoiled; a cut one is nobody's fault."""
        return self.too_long + self.bad_byte + self.bad_crc + self.bad_fields


class Parser:
    """Takes bytes as they come, split anywhere, and gives the lines in them."""

    def __init__(self) -> None:
        self.tally = Tally()
        self._tail = b""
        self._skipping = False  # inside a line that is too long and counted already
        self._first = True
        self._seq: int | None = None
        self._missing = 0  # before a whole line that was dropped for its fields; told with the next

    def reopened(self) -> None:
        """The port is new: what was begun on the old one will not be finished. SEQ goes on."""
        self._tail = b""
        self._skipping = False
        self._first = True

    def feed(self, data: bytes) -> list[Line]:
        """The lines that ``data`` completes, in order."""
        pieces = (self._tail + data).split(b"\n")
        tail = pieces.pop()
        lines: list[Line] = []
        for piece in pieces:
            if self._skipping:
                self._skipping = False
            elif (line := self._piece(piece)) is not None:
                lines.append(line)
        if len(tail) > MAX_LINE:  # with a CR before its LF a whole line may be one byte longer
            if not self._skipping:
                self._bad("too_long")
                self._skipping = True
            tail = b""
        self._tail = tail
        return lines

    def _piece(self, piece: bytes) -> Line | None:
        if piece.endswith(b"\r"):
            piece = piece[:-1]
        body, line, cause = piece[:-5], None, ""
        if len(piece) >= MAX_LINE:
            cause = "too_long"
        elif not (text := str(piece, "latin-1")).isprintable() or not piece.isascii():
            cause = "bad_byte"
        elif piece[-5:] != b"*%04X" % crc_hqx(body, 0xFFFF):
            cause = "bad_crc"
        elif "*" in text[:-5] or (line := self._line(text[:-5].split(" "))) is None:
            cause = "bad_fields"
        if line is None:
            self._bad(cause)
        else:
            self._first = False
            self.tally.lines += 1
        return line

    def _bad(self, cause: str) -> None:
        cause = "cut" if self._first and cause != "bad_fields" else cause
        self._first = False
        setattr(self.tally, cause, getattr(self.tally, cause) + 1)

    def _line(self, parts: list[str]) -> Line | None:
        """The line of these parts; None if they do not fit. Keeps the books on SEQ."""
        if len(parts) < 3 or not (parts[1].isdigit() and parts[2].isdigit()):
            return None
        kind, seq, tick = parts[0], int(parts[1]), int(parts[2])
        if seq >= SEQ_MODULUS or tick > TICK_MASK:
            return None
        if kind == "ID":
            return Ask(seq, tick, 0) if len(parts) == 3 else None
        last, self._seq = self._seq, seq
        lost = self._missing
        if last is not None and (gap := (seq - last - 1) % SEQ_MODULUS) < SEQ_MODULUS // 2:
            lost += gap  # more than half the circle is a line told twice, or a restart
        self._missing = 0
        line: Line | None = None
        if kind == "CT":
            counters = _counters(parts)
            line = None if counters is None else Pulses(seq, tick, lost, counters)
        elif kind == "LV":
            if len(parts) == 4 and (mask := parts[3]) and not mask.strip(_HEX):
                line = Levels(seq, tick, lost, int(mask, 16), 4 * len(mask))
        elif kind == "AN":
            raws = tuple(int(p) for p in parts[3:] if p.isdigit())
            if len(raws) == len(parts) - 3 > 0 and max(raws) <= ANALOG_MAX:
                line = Raws(seq, tick, lost, raws)
        elif kind == "HI":
            line = _hello(parts, seq, tick, lost)
        elif len(kind) == 2 and "A" <= kind[0] <= "Z" and "A" <= kind[1] <= "Z":
            self.tally.unknown += 1
            line = Unknown(seq, tick, lost, kind)
        if line is None:
            self._missing = lost
        return line


def _counters(parts: list[str]) -> tuple[tuple[int, int], ...] | None:
    """The counters of a ``CT``; an adapter without any may send an empty one."""
    counters: list[tuple[int, int]] = []
    for field in parts[3:]:
        count, _, tick = field.partition("@")
        if not (count.isdigit() and tick.isdigit()):
            return None
        counters.append((int(count), int(tick)))
    if len(counters) > MAX_COUNTERS or any(c > TICK_MASK or t > TICK_MASK for c, t in counters):
        return None
    return tuple(counters)


def _hello(parts: list[str], seq: int, tick: int, lost: int) -> Hello | None:
    fields = parts[3:]
    asked: int | None = None
    if len(fields) > 2 and fields[-1].startswith("re="):
        asked = _number(fields.pop(), "re=", SEQ_MODULUS - 1)
        if asked is None:
            return None
    if len(fields) < 2 or not fields[1] or (version := _number(fields[0], "v", 9999)) is None:
        return None
    if asked is None:
        lost = 0  # it began anew, and so did its SEQ
    if version != 1:
        return Hello(seq, tick, lost, version, fields[1], 0, 0, 0, asked)
    if len(fields) != 5:
        return None
    levels = _number(fields[2], "levels=", 4 * MAX_LINE)
    counters = _number(fields[3], "counters=", MAX_COUNTERS)
    analogs = _number(fields[4], "analogs=", MAX_LINE)
    if levels is None or counters is None or analogs is None:
        return None
    return Hello(seq, tick, lost, version, fields[1], levels, counters, analogs, asked)


def _number(field: str, prefix: str, limit: int) -> int | None:
    digits = field.removeprefix(prefix)
    if not field.startswith(prefix) or not digits.isdigit() or int(digits) > limit:
        return None
    return int(digits)
