"""Computers on this one: network namespaces, and cables between them that lose, delay and swallow packets.

A cable is a pair of TUN devices, one in each namespace, with a thread that carries the packets over. So it is the
kernels' own TCP that meets the loss (the kernel's network emulator is not on every machine; this needs only TUN).
"""

from __future__ import annotations

import fcntl
import heapq
import itertools
import os
import random
import select
import struct
import subprocess
import threading
import time
from contextlib import suppress
from types import TracebackType

TUNSETIFF, IFF_TUN, IFF_NO_PI = 0x400454CA, 0x0001, 0x1000  # linux/if_tun.h
_names = itertools.count()


def _ip(*words: str) -> None:
    subprocess.run(["ip", *words], check=True, capture_output=True, text=True)


def why_not() -> str:
    """Why there can be no namespaces here; empty if there can."""
    name = f"lltry{os.getpid()}"
    try:
        _ip("netns", "add", name)
        _ip("netns", "del", name)
        os.close(os.open("/dev/net/tun", os.O_RDWR))
    except FileNotFoundError as error:
        return f"{error.filename} is not here"
    except (OSError, subprocess.CalledProcessError) as error:
        return f"no network namespaces here: {getattr(error, 'stderr', None) or error}"
    return ""


class Computer:
    """A namespace with a network of its own. A context."""

    def __init__(self, name: str) -> None:
        self.name = f"ll{name}{os.getpid()}"
        self.inside = ("ip", "netns", "exec", self.name)
        """What a command is put behind to run there."""

    def __enter__(self) -> Computer:
        _ip("netns", "add", self.name)
        _ip("-n", self.name, "link", "set", "lo", "up")
        return self

    def __exit__(self, *_: object) -> None:
        _ip("netns", "del", self.name)


class Cable:
    """Between two computers, 10.77.N.1 and 10.77.N.2. A context."""

    def __init__(self, one: Computer, other: Computer, net: int, seed: int = 1) -> None:
        self.loss, self.delay_s, self.cut = 0.0, 0.0, False
        self.carried = self.dropped = 0
        self._random = random.Random(seed)
        self._fds: list[int] = []
        for k, computer in enumerate((one, other)):
            name = f"llt{os.getpid() % 10000}n{next(_names)}"
            fd = os.open("/dev/net/tun", os.O_RDWR | os.O_NONBLOCK)
            self._fds.append(fd)
            fcntl.ioctl(fd, TUNSETIFF, struct.pack("16sH", name.encode(), IFF_TUN | IFF_NO_PI))
            _ip("link", "set", name, "netns", computer.name)
            _ip("-n", computer.name, "addr", "add", f"10.77.{net}.{k + 1}/30", "dev", name)
            _ip("-n", computer.name, "link", "set", name, "up")
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._carry, name=f"cable {net}")

    def __enter__(self) -> Cable:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        self._thread.join()
        for fd in self._fds:
            os.close(fd)

    def _carry(self) -> None:
        under_way: list[tuple[float, int, int, bytes]] = []
        order = itertools.count()
        while not self._stop.is_set():
            now_s = time.monotonic()
            while under_way and under_way[0][0] <= now_s:
                _, _, to, packet = heapq.heappop(under_way)
                if not self.cut:
                    with suppress(OSError):  # the device's own queue is full: one more loss
                        os.write(to, packet)
                        self.carried += 1
            wait_s = min(0.05, under_way[0][0] - now_s) if under_way else 0.05
            for fd in select.select(self._fds, [], [], wait_s)[0]:
                with suppress(BlockingIOError):
                    packet = os.read(fd, 65_536)
                    if self.cut or self._random.random() < self.loss:
                        self.dropped += 1
                        continue
                    to = self._fds[1 - self._fds.index(fd)]
                    heapq.heappush(under_way, (time.monotonic() + self.delay_s, next(order), to, packet))
