"""The program with a GPIO chip that is a pipe: ``python -m benchmarks._pty_gpio FD watch SHOW …``.

What comes out of the pipe are the kernel's own edge events, field by field; gpiod makes its objects of them.
"""

from __future__ import annotations

import os
import struct
import sys

import gpiod
from gpiod.line import Value

from drivers.gpio import GpioDriver
from drivers.gpio_options import GpioOptions
from interlock.cli import run as program

EVENT = struct.Struct("<iqiII")
"""Type, nanoseconds, line, number of all, number of the line."""
RISING, FALLING = 1, 2


class Piped:
    """What the driver uses of ``gpiod.LineRequest``. At first no line is active."""

    def __init__(self, fd: int, options: GpioOptions) -> None:
        self.fd = fd
        self.offsets = [int(line) for _, line in sorted(options.level_lines.items())]
        self._active: set[int] = set()

    def read_edge_events(self, max_events: int | None = None) -> list[gpiod.EdgeEvent]:
        data = os.read(self.fd, EVENT.size * (max_events or 64))
        for kind, _, offset, _, _ in EVENT.iter_unpack(data):
            (self._active.add if kind == RISING else self._active.discard)(offset)
        return [gpiod.EdgeEvent(*fields) for fields in EVENT.iter_unpack(data)]

    def get_values(self, lines: list[int | str] | None = None) -> list[Value]:
        return [Value.ACTIVE if offset in self._active else Value.INACTIVE for offset in self.offsets]

    def release(self) -> None:
        os.close(self.fd)


def main() -> int:
    fd = int(sys.argv.pop(1))
    GpioDriver.request = staticmethod(lambda options: Piped(fd, options))
    return program()


if __name__ == "__main__":
    sys.exit(main())
