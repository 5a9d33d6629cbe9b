"""Which reads a Modbus module needs for what the show file wires, and what their answers say. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

import msgspec

from drivers.modbus_options import AnalogBlock, CounterBlock, DeviceOptions, ModbusOptions, Table
from interlock.signals import Wiring

_Place = TypeVar("_Place")

MOST_BITS = 2000
MOST_REGISTERS = 125


class Read(msgspec.Struct, frozen=True):
    """One request: ``count`` bits or registers of ``table`` from ``at`` on."""

    table: Table
    at: int
    count: int

    @property
    def words(self) -> str:
        """For a person, who may have to compare it with the module's manual."""
        what = {"discrete": "discrete input", "coil": "coil"}.get(self.table, f"{self.table} register")
        return f"{what} {self.at}" if self.count == 1 else f"{what}s {self.at} to {self.at + self.count - 1}"


class Module(msgspec.Struct, frozen=True):
    """One module, cut down to what is wired. ``levels``: (input number, read, bit of its answer)."""

    unit: int
    name: str
    reads: tuple[Read, ...]
    levels: tuple[tuple[int, Read, int], ...]
    counters: tuple[tuple[CounterBlock, Read], ...]
    analogs: tuple[tuple[AnalogBlock, Read], ...]


Answer = tuple[int, ...]
"""Bits (0 or 1) or registers, as many as the read asked for."""


def modules(options: ModbusOptions, wiring: Wiring) -> list[Module]:
    """What is to be read of each module.

    Raises ``ValueError``, in words, for an input that no module has or two have.
    """
    levels: dict[int, tuple[int, Table, int]] = {}
    counters: dict[int, tuple[int, CounterBlock]] = {}
    analogs: dict[int, tuple[int, AnalogBlock]] = {}
    for device in options.devices:
        unit = device.unit
        for block in device.levels:
            for k in range(block.count):
                _claim(
                    levels, block.first + k, (unit, block.table, block.at * _width(block.table) + k), "level"
                )
        for counter in device.counters:
            _claim(counters, counter.number, (unit, counter), "counter")
        for analog in device.analogs:
            _claim(analogs, analog.number, (unit, analog), "analog")
    for what, wired, have in (
        ("levels", wiring.levels, levels),
        ("counters", wiring.counters, counters),
        ("analogs", wiring.analogs, analogs),
    ):
        if missing := [str(k) for k in sorted(wired) if k not in have]:
            raise ValueError(f"{what} {', '.join(missing)} are wired, and no device says where they are read")
    return [
        module
        for device in options.devices
        if (module := _module(device, wiring, levels, counters, analogs)).reads
    ]


def _claim(have: dict[int, _Place], number: int, place: _Place, what: str) -> None:
    if number in have:
        raise ValueError(f"{what} input {number} is read at two places")
    have[number] = place


def _width(table: Table) -> int:
    """Bits at an address."""
    return 1 if table in ("discrete", "coil") else 16


def _module(
    device: DeviceOptions,
    wiring: Wiring,
    levels: Mapping[int, tuple[int, Table, int]],
    counters: Mapping[int, tuple[int, CounterBlock]],
    analogs: Mapping[int, tuple[int, AnalogBlock]],
) -> Module:
    unit = device.unit
    bits = [(k, t, b) for k in sorted(wiring.levels) for u, t, b in (levels[k],) if u == unit]
    counts = [c for k in sorted(wiring.counters) for u, c in (counters[k],) if u == unit]
    arms = [a for k in sorted(wiring.analogs) for u, a in (analogs[k],) if u == unit]
    wanted: set[tuple[Table, int]] = {(t, b // _width(t)) for _, t, b in bits}
    wanted |= {(c.table, c.at + i) for c in counts for i in range(c.bits // 16)}
    wanted |= {(a.table, a.at) for a in arms}
    reads = _joined(wanted, {(c.table, c.at) for c in counts if c.bits == 32})

    def read_of(table: Table, at: int) -> Read:
        return next(r for r in reads if r.table == table and r.at <= at < r.at + r.count)

    return Module(
        unit,
        device.name or f"unit {unit}",
        tuple(reads),
        tuple(
            (k, read, b - read.at * _width(t)) for k, t, b in bits for read in (read_of(t, b // _width(t)),)
        ),
        tuple((c, read_of(c.table, c.at)) for c in counts),
        tuple((a, read_of(a.table, a.at)) for a in arms),
    )


def _joined(wanted: set[tuple[Table, int]], doubles: set[tuple[Table, int]]) -> list[Read]:
    """As few reads as touch nothing that is not wired: an address between two may be one that is refused.

    A 32-bit counter is never cut in two: its halves must be of one instant.
    """
    reads: list[Read] = []
    for table, at in sorted(wanted):
        last = reads[-1] if reads else None
        most = MOST_BITS if _width(table) == 1 else MOST_REGISTERS
        room = 2 if (table, at) in doubles else 1
        if last and last.table == table and last.at + last.count == at and last.count + room <= most:
            reads[-1] = Read(table, last.at, last.count + 1)
        else:
            reads.append(Read(table, at, 1))
    return reads


def mask_of(module: Module, answers: Mapping[Read, Answer]) -> dict[int, bool]:
    """Input number → closed, of the levels whose reads were answered."""
    said: dict[int, bool] = {}
    for k, read, bit in module.levels:
        if (answer := answers.get(read)) is not None:
            width = _width(read.table)
            said[k] = bool(answer[bit // width] >> bit % width & 1)
    return said


def counts_of(module: Module, answers: Mapping[Read, Answer]) -> list[tuple[CounterBlock, int]]:
    """Raw counts of the counters whose reads were answered."""
    return [
        (c, c.value(answers[read][c.at - read.at : c.at - read.at + c.bits // 16]))
        for c, read in module.counters
        if read in answers
    ]


def raws_of(module: Module, answers: Mapping[Read, Answer]) -> list[tuple[int, int]]:
    """(analog number, raw value) of the arms whose reads were answered."""
    return [
        (a.number, a.value(answers[read][a.at - read.at])) for a, read in module.analogs if read in answers
    ]
