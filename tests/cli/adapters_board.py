"""The adapters' own firmware on ptys, stepped in real time by a thread, for a command that runs as a process of its own."""

from __future__ import annotations

import os
import select
import threading
import time
import tty
from contextlib import suppress
from pathlib import Path

from drivers.firmware import line

TWO = Path(__file__).parents[2] / "configs" / "two-house.toml"


class BoardOnPty:
    """Five contacts, two counters, one arm; ``path`` is what ``--port`` takes. A context."""

    def __init__(self, name: str = "north", *, levels: int = 5, counters: int = 2, analogs: int = 1) -> None:
        self.closed = [False] * levels
        self.raw = [2055] * analogs
        self.pulses_every_ms: dict[int, int] = {}
        self.bounce: int | None = None
        """A contact that opens and closes every 200 ms."""
        self.noise = False
        """What it says is no adapter line: another baud rate."""
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.path = os.ttyname(self._slave)
        self._name, self._counters = name, counters
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"board {name}")

    def __enter__(self) -> BoardOnPty:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)

    def _write(self, data: bytes) -> None:
        if self.noise:
            data = bytes(b << 1 & 0xFE ^ 0x80 for b in data)
        with suppress(BlockingIOError):  # nobody reads, and the pty is full
            os.write(self._master, data)

    def _run(self) -> None:
        def ms() -> int:
            return int(time.monotonic() * 1000) % (1 << 30)

        adapter = line.Adapter(
            self._name,
            [lambda k=k: self.closed[k] for k in range(len(self.closed))],  # type: ignore[misc]
            self._counters,
            [lambda k=k: self.raw[k] for k in range(len(self.raw))],  # type: ignore[misc]
            self._write,
            ms(),
            1 << 30,
        )
        began = ms()
        while not self._stop.is_set():
            for k, every in self.pulses_every_ms.items():
                while adapter.counters[k].small * every < ms() - began:
                    adapter.counters[k].pulse(ms())
            if self.bounce is not None:
                self.closed[self.bounce] = (ms() - began) // 200 % 2 == 1
            adapter.step(ms())
            if select.select([self._master], [], [], 0.002)[0]:
                adapter.hear(os.read(self._master, 256))
