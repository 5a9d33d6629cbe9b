"""``--plain``: one JSON object a line on standard output, operator actions on standard input.

Both ends have a thread of their own, because either may block for as long as the other side likes, and
the desk must not. What waits for standard output is bounded: a reader that is too far behind gets the
rest in one error line, and nothing after it. Every line before that is whole and in order.
"""

from __future__ import annotations

import asyncio
import errno
import os
import signal
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress

import msgspec

from interlock.errors import ActionError
from interlock.service.running import RunningDesk
from interlock.service.sockets import LINE_BYTES
from interlock.watch.state import Line, OperatorLine, encode

MOST_WAITING = 64 * 1024 * 1024
"""Bytes that may wait for standard output: an hour and a half of sixteen houses."""
IN_STEP = 1024 * 1024
CLOSE_S = 5.0
STDIN, STDOUT = 0, 1


class Output:
    """Writes to a file descriptor in a thread; :meth:`put` never waits."""

    def __init__(self, fd: int = STDOUT, most: int = MOST_WAITING) -> None:
        self.farewell: Callable[[], bytes] = bytes
        """The last line of a stream that is cut off."""
        self.broken = False
        """Nobody reads any more."""
        self.trouble: str | None = None
        """Why nothing more could be written; None where the reader only went away."""
        self.cut_off = False
        self._fd = fd
        self._most = most
        self._parts: deque[bytes] = deque()
        self._bytes = 0
        self._closed = False
        self._change = threading.Condition()
        self._thread = threading.Thread(target=self._write, name="standard output", daemon=True)
        self._thread.start()

    @property
    def waiting(self) -> int:
        """Bytes that wait."""
        return self._bytes

    def put(self, text: bytes) -> None:
        """Take a line to be written; thrown away if nobody reads any more, or too slowly."""
        with self._change:
            if self.broken or self.cut_off or self._closed:
                return
            if self._bytes + len(text) > self._most:
                self.cut_off = True
                text = self.farewell()
            self._parts.append(text)
            self._bytes += len(text)
            self._change.notify_all()

    def wait_below(self, waiting: int, timeout_s: float) -> None:
        """Block until fewer bytes wait, or nobody reads, or the time is up."""
        with self._change:
            self._change.wait_for(lambda: self._bytes < waiting or self.broken, timeout_s)

    def close(self, timeout_s: float = CLOSE_S) -> bool:
        """Write what waits, at most so long; True if all was written."""
        with self._change:
            self._closed = True
            self._change.notify_all()
        self._thread.join(timeout_s)
        return not self._thread.is_alive() and not self.broken

    def _write(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._parts or self._closed)
                if not self._parts:
                    return
                text = b"".join(self._parts)
                self._parts.clear()
            view = memoryview(text)
            while view:
                try:
                    view = view[os.write(self._fd, view) :]
                except OSError as error:
                    with self._change:
                        self.broken = True
                        if error.errno != errno.EPIPE:
                            self.trouble = error.strerror
                        self._parts.clear()
                        self._bytes = 0
                        self._change.notify_all()
                    return
            with self._change:
                self._bytes -= len(text)
                self._change.notify_all()


def plain(line: Line) -> bytes:
    """A line as programs get it, with its newline: the keys of an operator's action stand beside ``action``, as they
    were sent in (and under ``keys`` as well)."""
    text = encode(line)
    if isinstance(line, OperatorLine):
        said = msgspec.json.decode(text)
        text = msgspec.json.encode(said | {k: v for k, v in line.keys.items() if k not in said})
    return text + b"\n"


def read_lines(take: Callable[[bytes], None], fd: int = STDIN) -> threading.Thread:
    """A thread that calls ``take`` with each line of ``fd`` until it ends. A line that is too long comes as its beginning.

    Read as plain bytes: Python's own buffered reader would hold a lock that a dying interpreter needs.
    """
    if hasattr(signal, "SIGTTIN"):
        # Reading from the terminal in the background would stop the whole process, the desk included.
        signal.signal(signal.SIGTTIN, signal.SIG_IGN)
        signal.signal(signal.SIGTTOU, signal.SIG_IGN)

    def read() -> None:
        rest = b""
        skipping = False
        while True:
            try:
                more = os.read(fd, 65_536)
            except OSError:
                return
            if not more:
                if rest.strip() and not skipping:
                    take(rest)
                return
            *lines, rest = (rest + more).split(b"\n")
            for line in lines:
                if not skipping and line.strip():
                    take(line)
                skipping = False
            if len(rest) > LINE_BYTES:
                if not skipping:
                    take(rest[: LINE_BYTES + 1])
                rest, skipping = b"", True

    thread = threading.Thread(target=read, name="standard input", daemon=True)
    thread.start()
    return thread


class PlainDesk:
    """Standard output and input of a desk in this process. Made before the desk runs, so that no line is missed."""

    def __init__(self, desk: RunningDesk, output: Output | None = None, fd: int = STDIN) -> None:
        self.desk = desk
        self.output = output if output is not None else Output()
        self.output.farewell = lambda: self._error("cut off: standard output is not read; the watch goes on")
        self._box = desk.bus.lines.lossless("standard output")
        loop = asyncio.get_running_loop()

        def take(text: bytes) -> None:
            with suppress(RuntimeError):  # the loop has ended meanwhile
                loop.call_soon_threadsafe(self._act, text)

        self.reading = read_lines(take, fd)

    async def feed(self) -> None:
        """Hand lines to standard output until the bus is closed, however fast it is read."""
        while await self._box.ready():
            self.hand_out()

    async def in_step(self) -> None:
        """The same once, for a rehearsal that would otherwise run away from its reader."""
        self.hand_out()
        while self.output.waiting > IN_STEP and not self.desk.ended.is_set():
            await asyncio.to_thread(self.output.wait_below, IN_STEP, 0.1)

    def hand_out(self) -> None:
        """Everything that was said since."""
        for line in self._box.drain():
            self.output.put(plain(line))
        if self.output.broken and self.desk.folding.rehearsal:
            self.desk.end(
                f"the output cannot be written: {self.output.trouble}"
                if self.output.trouble
                else "nobody reads the rehearsal any more"
            )  # a watch goes on: its record is being written

    def _error(self, text: str) -> bytes:
        return encode(self.desk.folding.error(text)) + b"\n"

    def _act(self, text: bytes) -> None:
        try:
            self.desk.act(text)
        except ActionError as error:
            self.hand_out()
            self.output.put(self._error(str(error)))
