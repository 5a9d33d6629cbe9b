"""What was folded and said, as the bytes of a record, and back.

Why MessagePack for inputs: every 64-bit float comes back bit for bit (JSON has no NaN), at a third of
the cost of JSON while the interpreter's lock is held, and there is a library for every language. Lines are JSON,
as in ``--plain``, because people look at them.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from typing import Any, Union, get_args

import msgspec

from interlock.watch.inputs import Action, Input
from interlock.watch.state import ErrorLine, Line

MOST_BYTES = 256 << 20
"""A batch that unpacks to more than this was not written by this program."""


class Did(msgspec.Struct, frozen=True, tag="action", array_like=True):
    """An action among the inputs, which are all arrays: ``["action", {…}]``."""

    action: Action


class Unwritable(msgspec.Struct, frozen=True, tag="unwritable", array_like=True):
    """Stands where an input could not be put into bytes (a text that is no Unicode); ``text`` is its ``repr``."""

    text: str


# Taken from the union itself, so that an input which is added to it can be recorded without a word here.
_Stored: Any = Union[(*(t for t in get_args(Input) if t is not Action), Did, Unwritable)]
_pack = msgspec.msgpack.Encoder().encode
_unpack = msgspec.msgpack.Decoder(list[_Stored]).decode
_to_json = msgspec.json.Encoder().encode
_lines_from_json = msgspec.json.Decoder(list[tuple[int, Line]]).decode

# What the encoders raise for what they cannot put into bytes.
_UNENCODABLE = (TypeError, ValueError, OverflowError, RecursionError)


def pack_inputs(inputs: Sequence[Input]) -> bytes:
    """The MessagePack array of a batch. Never fails: what cannot be encoded leaves an :class:`Unwritable`."""
    stored: Sequence[object] = inputs
    if Action in set(map(type, inputs)):
        stored = [Did(x) if type(x) is Action else x for x in inputs]
    try:
        return _pack(stored)
    except _UNENCODABLE:
        return _pack([_encodable(x) for x in stored])


def _encodable(x: object) -> object:
    try:
        _pack(x)
    except _UNENCODABLE:
        return Unwritable(_printable(repr(x)))
    return x


def _printable(text: str) -> str:
    return text[:2_000].encode("ascii", "backslashreplace").decode("ascii")


def unpack_inputs(packed: bytes) -> list[Input]:
    """The inputs of a batch; ``msgspec.DecodeError`` or ``ValueError`` if these are none."""
    inputs: list[Input] = []
    for x in _unpack(packed):
        if type(x) is Did:
            inputs.append(x.action)
        elif type(x) is Unwritable:
            raise ValueError(f"an input could not be recorded: {x.text}")
        else:
            inputs.append(x)
    return inputs


def pack_lines(lines: Sequence[tuple[int, Line]]) -> str:
    """JSON of ``[[number of the input, line], …]``; the empty text for none. Never fails, as with inputs."""
    if not lines:
        return ""
    try:
        return _to_json(lines).decode()
    except _UNENCODABLE:
        return _to_json([(seq, _encodable_line(line)) for seq, line in lines]).decode()


def _encodable_line(line: Line) -> Line:
    try:
        _to_json(line)
    except _UNENCODABLE:
        text = f"could not be recorded: {_printable(repr(line))}"
        return ErrorLine(seq=line.seq, at=line.at, show_s=line.show_s, text=text)
    return line


def unpack_lines(text: str | bytes) -> list[tuple[int, Line]]:
    """What :func:`pack_lines` wrote; ``msgspec.DecodeError`` if it did not."""
    return _lines_from_json(text) if text else []


def compress(packed: bytes) -> bytes:
    """Level 1: the times differ in every digit that matters, so that more effort wins 5 % for twice the time."""
    return zlib.compress(packed, 1) if packed else b""


def decompress(data: bytes) -> bytes:
    """The MessagePack array of ``batches.data``; ``ValueError`` if it is none."""
    if not data:
        return b""
    unpacker = zlib.decompressobj()
    try:
        packed = unpacker.decompress(data, MOST_BYTES)
    except zlib.error as error:
        raise ValueError(f"its inputs cannot be unpacked ({error})") from error
    if not unpacker.eof or unpacker.unused_data:
        raise ValueError("its inputs cannot be unpacked (too long or too short)")
    return packed
