"""Adapters on ptys, and programs that listen to them: the adapter line as its page has it, spoken by one loop.

One thread does everything: writes what is due, reads what the program under test prints, and stamps both, so that no
lock of this interpreter stands between a fact and its stamp.
"""

from __future__ import annotations

import binascii
import heapq
import itertools
import os
import select
import time
import tty
from collections.abc import Callable
from dataclasses import dataclass, field

LEVELS_EVERY_S = 0.25
COUNTS_EVERY_S = 0.1
TICKS, SEQS = 1 << 32, 1 << 16
now = time.monotonic


def wire_line(kind: str, seq: int, tick: int, *fields: str) -> bytes:
    """One line with its CRC-16/IBM-3740 and LF."""
    body = " ".join((kind, str(seq), str(tick), *fields)).encode("ascii")
    return b"%s*%04X\n" % (body, binascii.crc_hqx(body, 0xFFFF))


@dataclass(repr=False)
class WireAdapter:
    """One adapter; ``port`` is what the show file names. It says nothing before it is asked for the first time.

    ``frames_at(second)``: frames that every counted machine has run by then, and the second of the latest whole one.
    """

    name: str
    levels: int
    counters: int = 0
    number: int = 0
    """Its ticks and sequence numbers begin elsewhere than those of another number: no two lines are alike."""
    frames_at: Callable[[float], tuple[int, float]] = lambda at_s: (0, 0.0)
    mask: int = 0
    awake: bool = False
    dropped: int = 0
    """Lines that the pty did not take."""
    port: str = ""
    _fds: tuple[int, int] = (-1, -1)
    _heard: bytes = b""
    _next: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def __post_init__(self) -> None:
        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self._fds = (
            master,
            slave,
        )  # ours is kept open: an end that nobody has would not be read without an error
        self.port = os.ttyname(slave)
        self._zero_s = now() - self.number * 10_000.0 - 10.0
        self._seq = self.number * 4_000

    @property
    def fd(self) -> int:
        """The adapter's own end."""
        return self._fds[0]

    def close(self) -> None:
        """Pull it out."""
        for fd in self._fds:
            os.close(fd)

    def change(self, bit: int, closed: bool) -> tuple[float, bytes]:
        """A contact changes now: its line goes out at once. (The second just before it was written, the line.)"""
        self.mask = self.mask | 1 << bit if closed else self.mask & ~(1 << bit)
        self._next[0] = now() + LEVELS_EVERY_S
        line = self._levels_line()
        at_s = now()
        self._write(line)
        return at_s, line

    def due_s(self) -> float:
        """When it has to say something next."""
        return min(self._next[: 2 if self.counters else 1]) if self.awake else float("inf")

    def pump(self) -> None:
        """Say what is due."""
        if not self.awake:
            return
        at_s = now()
        if self._next[0] <= at_s:
            self._next[0] = at_s + LEVELS_EVERY_S
            self._write(self._levels_line())
        if self.counters and self._next[1] <= at_s:
            self._next[1] = max(self._next[1] + COUNTS_EVERY_S, at_s)
            frames, pulse_s = self.frames_at(at_s)
            count = f"{frames}@{self._tick(pulse_s) if frames else 0}"
            self._say("CT", *[count] * self.counters)

    def hear(self) -> None:
        """Answer who asks."""
        try:
            self._heard += os.read(self.fd, 4096)
        except OSError:
            return
        *lines, self._heard = self._heard.split(b"\n")
        for line in lines:
            if line.startswith(b"ID "):
                self.awake = True
                shape = (f"levels={self.levels}", f"counters={self.counters}", "analogs=0")
                self._say("HI", "v1", self.name, *shape, f"re={line.split()[1].decode('ascii')}")
                self._next = [0.0, 0.0]
                self.pump()

    def _levels_line(self) -> bytes:
        return self._numbered("LV", f"{self.mask:0{(self.levels + 3) // 4}X}")

    def _numbered(self, kind: str, *fields: str) -> bytes:
        line = wire_line(kind, self._seq, self._tick(now()), *fields)
        self._seq = (self._seq + 1) % SEQS
        return line

    def _say(self, kind: str, *fields: str) -> None:
        self._write(self._numbered(kind, *fields))

    def _tick(self, at_s: float) -> int:
        return int((at_s - self._zero_s) * 1000) % TICKS

    def _write(self, line: bytes) -> None:
        try:
            os.write(self.fd, line)
        except BlockingIOError:
            self.dropped += 1


class World:
    """The loop: adapters, what is planned, and the output of the program that listens."""

    def __init__(self, adapters: list[WireAdapter], output: int) -> None:
        """``output``: the file descriptor of what the program prints."""
        self.adapters = adapters
        self.heard: list[tuple[float, bytes]] = []
        """(second, bytes): what the program printed, as it came."""
        self.hear: Callable[[float, bytes], object] | None = None
        """Told of every whole line as it comes, if anybody is."""
        self.ended = False
        self._rest = b""
        self._output = output
        self._plan: list[tuple[float, int, Callable[[], object]]] = []
        self._order = itertools.count()
        self._by_fd = {a.fd: a for a in adapters}

    def at(self, at_s: float, do: Callable[[], object]) -> None:
        """Do that at that second."""
        heapq.heappush(self._plan, (at_s, next(self._order), do))

    def run(self, until: Callable[[], bool], within_s: float, what: str) -> None:
        """Until it is so; ``TimeoutError`` if it takes too long or the program ends."""
        end_s = now() + within_s
        while not until():
            at_s = now()
            if at_s > end_s or self.ended:
                raise TimeoutError(
                    f"{what}: {'the program ended' if self.ended else f'not in {within_s:g} s'}"
                )
            while self._plan and self._plan[0][0] <= at_s:
                heapq.heappop(self._plan)[2]()
            for adapter in self.adapters:
                if adapter.due_s() <= at_s:
                    adapter.pump()
            due_s = min([end_s, *[a.due_s() for a in self.adapters], *[s for s, _, _ in self._plan[:1]]])
            ready, _, _ = select.select([self._output, *self._by_fd], [], [], max(0.0, due_s - now()))
            for fd in ready:
                if fd == self._output:
                    data = os.read(fd, 1 << 16)
                    self.heard.append((now(), data))
                    self.ended = not data
                    self._tell(data)
                else:
                    self._by_fd[fd].hear()

    def _tell(self, data: bytes) -> None:
        at_s = self.heard[-1][0]
        *whole, self._rest = (self._rest + data).split(b"\n")
        if self.hear is not None:
            for line in whole:
                self.hear(at_s, line)

    def lines(self, since: int = 0) -> list[tuple[float, bytes]]:
        """Whole lines with the second at which their end came; ``since``: an index into :attr:`heard`."""
        found: list[tuple[float, bytes]] = []
        rest = b""
        for at_s, data in self.heard[since:]:
            *whole, rest = (rest + data).split(b"\n")
            found += [(at_s, line) for line in whole]
        return found
