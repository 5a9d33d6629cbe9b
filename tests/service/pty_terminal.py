"""A real terminal for a real screen."""

from __future__ import annotations

import asyncio
import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios


class Terminal:
    """A terminal of 200 × 60 with a screen on it, drained only while it is told to be."""

    def __init__(self, *args: str) -> None:
        self.fd, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 60, 200, 0, 0))
        self.screen = subprocess.Popen(
            [sys.executable, "-m", "interlock.cli", *args],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
            start_new_session=True,
        )
        os.close(slave)
        self.drained = 0
        self.last = b""
        """The last that it wrote."""
        self.shown = asyncio.Event()
        """The screen has drawn itself."""
        self._more = asyncio.Event()
        asyncio.get_running_loop().add_reader(self.fd, self._drain)

    def _drain(self) -> None:
        try:
            part = os.read(self.fd, 65_536)
        except OSError:  # the program has ended
            self.freeze()
            return
        self.drained += len(part)
        self.last = (self.last + part)[-20_000:]
        self._more.set()
        if self.drained > 20_000:
            self.shown.set()

    async def says(self, words: str, within_s: float = 20.0) -> None:
        """Wait until these words are among the last that it wrote."""
        try:
            async with asyncio.timeout(within_s):
                while words.encode() not in self.last:
                    self._more.clear()
                    await self._more.wait()
        except TimeoutError:
            raise AssertionError(f"never said {words!r}; last: {self.last[-2000:]!r}") from None

    def freeze(self) -> None:
        asyncio.get_running_loop().remove_reader(self.fd)

    def waiting(self) -> int:
        """Bytes that the screen has written and nobody has taken."""
        return int(struct.unpack("i", fcntl.ioctl(self.fd, termios.FIONREAD, b"\0" * 4))[0])

    def kill(self) -> None:
        self.screen.kill()
        self.screen.wait(10)
        os.close(self.fd)
