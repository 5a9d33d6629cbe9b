"""A GPIO request to test against: a real pipe whose fd is waited for, and real gpiod event objects read from it."""

from __future__ import annotations

import errno
import fcntl
import os
import struct
from collections.abc import Callable

import gpiod
from gpiod.line import Value

from drivers.gpio_options import GpioOptions

_EVENT = struct.Struct("<iqiII")  # type, ns, offset, number of all, number of the line


class Pins:
    """The pins of one chip, with a kernel that stamps and numbers their edges, and loses the oldest if it must."""

    def __init__(self, kernel_s: Callable[[], float]) -> None:
        self.kernel_s = kernel_s
        self.active: dict[int, bool] = {}
        self.plugged = True
        self.request: Double | None = None
        self.asked: list[GpioOptions] = []

    def open(self, options: GpioOptions) -> Double:
        """In place of ``gpio_lines.request``."""
        self.asked.append(options)
        if not self.plugged:
            raise OSError(errno.ENOENT, "no such chip")
        levels = [int(line) for _, line in sorted(options.level_lines.items())]
        counters = [int(line) for _, line in sorted(options.counter_lines.items())]
        self.request = Double(self, levels, counters)
        return self.request

    def set(self, offset: int, active: bool, *, lose: bool = False) -> None:
        """The line becomes active or not; ``lose``: its edge falls out of the kernel's buffer."""
        changed = self.active.get(offset, False) is not active
        self.active[offset] = active
        if changed and self.request is not None:
            self.request.edge(offset, active, lose)

    def pulse(self, offset: int, *, lose: bool = False) -> None:
        self.set(offset, True, lose=lose)
        self.set(offset, False, lose=lose)

    def unplug(self) -> None:
        self.plugged = False
        if self.request is not None:
            self.request.hang_up()


class Double:
    """What the driver uses of ``gpiod.LineRequest``."""

    def __init__(self, pins: Pins, levels: list[int], counters: list[int]) -> None:
        self._pins = pins
        self.offsets = levels + counters
        self._counters = set(counters)
        self._seqno = 0
        self._line_seqno = dict.fromkeys(self.offsets, 0)
        self._read, self._write = os.pipe()
        os.set_blocking(self._write, False)
        fcntl.fcntl(self._write, fcntl.F_SETPIPE_SZ, 1 << 20)
        self.released = False

    @property
    def fd(self) -> int:
        return self._read

    def edge(self, offset: int, active: bool, lose: bool) -> None:
        if offset in self._counters and not active:
            return  # edge detection of a counter is rising only
        self._seqno += 1
        self._line_seqno[offset] += 1
        if not lose:
            kind = 1 if active else 2
            ns = round(self._pins.kernel_s() * 1e9)
            os.write(self._write, _EVENT.pack(kind, ns, offset, self._seqno, self._line_seqno[offset]))

    def read_edge_events(self, max_events: int | None = None) -> list[gpiod.EdgeEvent]:
        data = os.read(self._read, _EVENT.size * (max_events or 64))
        if not data:
            raise OSError(errno.ENODEV, "gone")
        return [gpiod.EdgeEvent(*fields) for fields in _EVENT.iter_unpack(data)]

    def get_values(self, lines: list[int | str] | None = None) -> list[Value]:
        if not self._pins.plugged:
            raise OSError(errno.ENODEV, "gone")
        return [Value.ACTIVE if self._pins.active.get(o, False) else Value.INACTIVE for o in self.offsets]

    def hang_up(self) -> None:
        if self._write >= 0:
            os.close(self._write)
            self._write = -1

    def release(self) -> None:
        self.hang_up()
        os.close(self._read)
        self.released = True
        self._pins.request = None
