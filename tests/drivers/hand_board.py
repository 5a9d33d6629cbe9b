"""A board with the real firmware on a real pty, and its machine: in a thread of their own, in real time."""

from __future__ import annotations

import os
import select
import threading
import time
import tty
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from firmware_story import Board

from drivers.firmware import line

RUN, LAMP, DOWSER, FILM = range(4)
RAMP_S = 1.0


class HandBoard:
    """One board and its machine. ``start_s``: when its motor starts, on the monotonic clock; None: it stands."""

    def __init__(self, name: str, *, levels: int = 4, counters: int = 1, film: int = FILM) -> None:
        self.name = name
        self._board = Board(line, levels=levels, counters=counters, analogs=0, name=name)
        if levels > film:
            self._board.closed[film] = True  # threaded
        self.start_s: float | None = None
        self.pulses_per_frame = 1.0
        self.chatter: int | None = None
        """A contact that opens and closes a thousand times a second."""
        self.damage: Callable[[bytes], bytes] = lambda data: data
        self._pulses = 0
        self._master = self._slave = -1
        self._path: Path | None = None
        self._lock = threading.Lock()
        self._born_s = time.monotonic()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._live, name=f"board {name}")
        self._thread.start()

    def plug(self, path: Path) -> str:
        """Into that port; the device's own name."""
        with self._lock:
            self._master, self._slave = os.openpty()
            tty.setraw(self._slave)
            os.set_blocking(self._master, False)
            path.symlink_to(os.ttyname(self._slave))
            self._path = path
            return os.ttyname(self._slave)

    def unplug(self) -> None:
        """Out of it: the port is gone."""
        with self._lock:
            if self._path is not None:
                os.close(self._master)
                os.close(self._slave)
                self._path.unlink()
                self._path = None

    def end(self) -> None:
        self._stop.set()
        self._thread.join()
        self.unplug()

    def _frames(self, now_s: float) -> float:
        """What the machine has run."""
        run_s = now_s - self.start_s if self.start_s is not None else 0.0
        if run_s <= 0:
            return 0.0
        return 24.0 * (run_s * run_s / (2 * RAMP_S) if run_s < RAMP_S else run_s - RAMP_S / 2)

    def _move(self, ms: int) -> None:
        now_s = self._born_s + ms / 1000.0  # not the thread's own time: it may be late
        if self.start_s is not None and now_s >= self.start_s:
            if self.chatter != RUN:
                self._board.contact(RUN, True)
            while self._board.adapter.counters and self._pulses < int(
                self._frames(now_s) * self.pulses_per_frame
            ):
                self._pulses += 1
                self._board.pulse(0)
        if self.chatter is not None:
            self._board.contact(self.chatter, ms % 2 == 0)

    def _live(self) -> None:
        while not self._stop.is_set():
            with self._lock:
                self._board.run(int((time.monotonic() - self._born_s) * 1000) - self._board.ms, self._move)
                data = self.damage(b"".join(d for _, d in self._board.said))
                self._board.said.clear()
                if self._path is not None:
                    with suppress(BlockingIOError):  # nobody reads, and the pty is full
                        os.write(self._master, data)
                    if select.select([self._master], [], [], 0.0)[0]:
                        self._board.hear(os.read(self._master, 256))
            self._stop.wait(0.004)


def other_baud(data: bytes) -> bytes:
    """About what a UART makes of bits that come at another rate."""
    return bytes((b << 1 & 0xFF) ^ 0x2B for b in data)
