"""A small adapter for the serial driver's tests: what wire.md says, on a pty, a socket, or by hand."""

from __future__ import annotations

import asyncio
import errno
import os
import tty
from binascii import crc_hqx
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path


def line(*parts: object) -> bytes:
    """A whole line of these parts."""
    body = " ".join(str(p) for p in parts).encode()
    return body + b"*%04X\n" % crc_hqx(body, 0xFFFF)


class Adapter:
    """Twelve contacts, two counters, one analog. Its ticks are ``now_s`` since its power-up, ``ppm`` fast."""

    def __init__(self, now_s: Callable[[], float], name: str = "north") -> None:
        self.now_s = now_s
        self.name = name
        self.version, self.levels, self.counters, self.analogs = "v1", 12, 2, 1
        self.ppm = 0.0
        self.mask = 0
        self.raw = [2055]
        self.first_count = 0
        self.send: Callable[[bytes], None] = lambda data: None
        self.quiet = False
        self.answers = True
        self._heard = b""
        self.power_up(0)

    def power_up(self, tick: int) -> None:
        """A new life; ``tick`` is where its clock begins, 0 in a real one."""
        self._born_s, self._first_tick = self.now_s(), tick
        self.seq = 0
        self.count = [(self.first_count, 0)] * self.counters

    @property
    def tick(self) -> int:
        return (self._first_tick + int((self.now_s() - self._born_s) * 1000 * (1 + self.ppm * 1e-6))) % 2**32

    def say(self, kind: str, *fields: object, tick: int | None = None) -> bytes:
        data = line(kind, self.seq, self.tick if tick is None else tick, *fields)
        self.seq = (self.seq + 1) % 65536
        if not self.quiet:
            self.send(data)
        return data

    def hi(self, asked: int | None = None) -> bytes:
        sizes = (f"levels={self.levels}", f"counters={self.counters}", f"analogs={self.analogs}")
        return self.say("HI", self.version, self.name, *sizes, *([] if asked is None else [f"re={asked}"]))

    def lv(self) -> bytes:
        return self.say("LV", f"{self.mask:0{-(-self.levels // 4)}X}")

    def ct(self) -> bytes:
        return self.say("CT", *(f"{c}@{t}" for c, t in self.count))

    def an(self) -> bytes:
        return self.say("AN", *self.raw)

    def contact(self, level: int, closed: bool) -> None:
        self.mask = self.mask | 1 << level if closed else self.mask & ~(1 << level)
        self.lv()

    def pulses(self, counter: int, n: int) -> None:
        self.count[counter] = ((self.count[counter][0] + n) % 2**32, self.tick)

    def hear(self, data: bytes) -> None:
        """Bytes from the computer."""
        self._heard += data
        *lines, self._heard = self._heard.split(b"\n")
        for said in lines:
            body, _, crc = said.rpartition(b"*")
            assert crc == b"%04X" % crc_hqx(body, 0xFFFF), f"the computer sent no whole line: {said!r}"
            kind, seq, _ = body.split(b" ")
            if kind == b"ID" and self.answers:
                self.hi(int(seq))
                self.lv()
                self.ct()
                self.an()

    async def speak(self) -> None:
        """Every 50 ms as the page says: counts and arms every 100 ms, levels every 200 ms."""
        for beat in range(10**9):
            if beat % 2 == 0:
                self.ct()
                self.an()
            if beat % 4 == 1:
                self.lv()
            await asyncio.sleep(0.05)


class Pty:
    """A pty whose far end is called ``path``, a symlink, so that it can come back as another device."""

    def __init__(self, path: Path, adapter: Adapter) -> None:
        self.path = path
        self.adapter = adapter
        self.master = self.slave = -1

    def plug(self) -> None:
        self.master, self.slave = os.openpty()
        tty.setraw(self.slave)
        os.set_blocking(self.master, False)
        self.path.symlink_to(os.ttyname(self.slave))
        self.adapter.send = self._send
        asyncio.get_running_loop().add_reader(self.master, self._hear)

    def unplug(self) -> None:
        if self.master >= 0:
            asyncio.get_running_loop().remove_reader(self.master)
            os.close(self.master)
            os.close(self.slave)
            self.path.unlink()
        self.master = self.slave = -1
        self.adapter.send = lambda data: None

    def held(self) -> bool:
        """Whether anybody but ourselves has the far end open (Linux: by what this process holds)."""
        if self.slave < 0:
            return False
        name = os.ttyname(self.slave)
        found = 0
        for fd in Path("/proc/self/fd").iterdir():
            try:
                found += str(fd.readlink()) == name
            except OSError as error:
                if error.errno != errno.ENOENT:
                    raise
        return found > 1

    def _send(self, data: bytes) -> None:
        with suppress(BlockingIOError):  # nobody reads, and the pty is full: so would a UART lose it
            os.write(self.master, data)

    def _hear(self) -> None:
        self.adapter.hear(os.read(self.master, 4096))
