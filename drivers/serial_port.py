"""A port that comes and goes, read in a thread of its own.

pySerial blocks, so it lives in the thread: opening, reading, writing, closing, and opening again with
growing pauses. What happens goes into a deque, stamped where it happened, with one wake-up for the
loop however much there is; nothing is dropped and the thread never waits for the loop.
"""

from __future__ import annotations

import asyncio
import errno
import os
import select
import socket
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Literal, TypeAlias

import msgspec
import serial
from serial.urlhandler import protocol_socket

from interlock.clock import Clock
from interlock.text import clean

FIRST_PAUSE_S = 0.2
LONGEST_PAUSE_S = 5.0
IDLE_S = 0.2
"""Silence is told this often, so that whoever listens needs no timer."""
CLOSE_S = 0.8
"""How long closing is waited for."""
CHUNK = 4096


class PortEvent(msgspec.Struct, frozen=True):
    """``data``: bytes read, none for a while of silence. ``gone``: not there, ``text`` says why."""

    at_s: float
    kind: Literal["opened", "data", "gone"]
    data: bytes = b""
    text: str = ""


Port: TypeAlias = Any
"""What ``serial_for_url`` gives; its kinds have no more in common than their names for things."""

Find: TypeAlias = Callable[[], str]
"""Where the port is now: a name or URL for ``serial_for_url``; raises OSError if it is nowhere."""


class PortThread:
    """Serves the port that ``find`` names from :meth:`start` until :meth:`close`."""

    def __init__(self, find: Find, baud: int, clock: Clock, name: str) -> None:
        self._find = find
        self._baud = baud
        self._clock = clock
        self._events: deque[PortEvent] = deque()
        self._outbox: deque[bytes] = deque()
        self._loop = asyncio.get_running_loop()
        self._wake = asyncio.Event()
        self._ended = asyncio.Event()
        self._rung = False
        self._heard = False
        self._stop = threading.Event()
        self._bell_r, self._bell_w = socket.socketpair()
        self._bell_r.setblocking(False)
        self._bell_w.setblocking(False)
        # A daemon: a port that hangs in the kernel must not keep the program from ending.
        self._thread = threading.Thread(target=self._run, name=f"serial {name}", daemon=True)

    def start(self) -> None:
        """Begin to open the port."""
        self._thread.start()

    async def take(self, chunks: int) -> list[PortEvent]:
        """The next events in order, at most ``chunks``; waits until there is one."""
        if not self._events:
            await self._wake.wait()
        self._wake.clear()
        self._rung = False  # before looking: what comes from now on rings again
        events = self._events
        return [events.popleft() for _ in range(min(chunks, len(events)))]

    def write(self, data: bytes) -> None:
        """Send it as soon as the thread can; what cannot be sent now is dropped, the caller asks again."""
        self._outbox.append(data)
        self._ring()

    async def close(self) -> None:
        """Close the port, in ``CLOSE_S`` at most: a thread that hangs closes it when it comes free."""
        self._stop.set()
        self._ring()
        with suppress(TimeoutError):
            await asyncio.wait_for(self._ended.wait(), CLOSE_S)
            self._thread.join(0.1)  # it has said its last word; this is microseconds

    def _ring(self) -> None:
        with suppress(OSError):  # full: it rings already; closed: nobody listens any more
            self._bell_w.send(b"!")

    # The thread. ─────────────────────────────────────────────────────────

    def _run(self) -> None:
        pause_s = FIRST_PAUSE_S
        while not self._stop.is_set():
            self._heard = False
            port: Port | None = None
            try:
                port = open_port(self._find(), self._baud)
                self._serve(port)
            # This place supervises: ports of all kinds raise all kinds of errors (termios.error, TypeError of
            # one closed under its reader), and whatever it is, the show needs the port back.
            except Exception as error:  # noqa: BLE001
                self._post("gone", text=say(error))
            finally:
                _close(port)
            pause_s = FIRST_PAUSE_S if self._heard else pause_s
            self._stop.wait(pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
        self._bell_r.close()
        self._bell_w.close()
        self._call(self._ended.set)

    def _serve(self, port: Port) -> None:
        """Read and write until told to stop; raises when the port is gone."""
        # A file descriptor can be waited for together with the bell, and gives all there is in one read.
        # Exactly these two: what is derived from them (spy://) means its own read to be called.
        direct = os.name == "posix" and type(port) in (serial.Serial, protocol_socket.Serial)
        self._post("opened")
        while not self._stop.is_set():
            data = self._read_direct(port.fileno()) if direct else _read_any(port)
            if data is not None:
                self._heard = self._heard or bool(data)
                self._post("data", data)
            while self._outbox:
                line = self._outbox.popleft()
                if not direct or select.select([], [port.fileno()], [], 0)[1]:
                    with suppress(serial.SerialTimeoutException):
                        port.write(line)

    def _read_direct(self, fd: int) -> bytes | None:
        """What is there, nothing after a while of silence, None if only the bell rang."""
        ready, _, _ = select.select([fd, self._bell_r.fileno()], [], [], IDLE_S)
        if self._bell_r.fileno() in ready:
            self._bell_r.recv(CHUNK)
        if fd in ready:
            data = os.read(fd, CHUNK)
            if not data:
                raise serial.SerialException("the device is gone")
            return data
        return None if ready else b""

    def _post(self, kind: Literal["opened", "data", "gone"], data: bytes = b"", text: str = "") -> None:
        if self._stop.is_set():
            return
        self._events.append(PortEvent(self._clock.now_s(), kind, data, text))
        if not self._rung:
            self._rung = True
            self._call(self._wake.set)

    def _call(self, callback: Callable[[], None]) -> None:
        try:
            self._loop.call_soon_threadsafe(callback)
        except RuntimeError:  # the loop is closed: whoever ran us is gone without closing
            self._stop.set()


def make_port(url: str, baud: int) -> Port:
    """The port, not opened; ``ValueError`` or ``SerialException`` for a URL that makes no sense."""
    port = serial.serial_for_url(url, do_not_open=True, baudrate=baud, timeout=IDLE_S / 2, exclusive=True)
    if (from_url := getattr(port, "from_url", None)) is not None:
        from_url(url)
    return port


def open_port(url: str, baud: int) -> Port:
    """The port, opened for us alone where the system can, and without the driver's own delay."""
    port = make_port(url, baud)
    if not url.lower().startswith("rfc2217:"):  # which knows no write timeout, and says so by raising
        port.write_timeout = IDLE_S
    port.open()
    with suppress(AttributeError, NotImplementedError, OSError, ValueError):  # a pty has no such thing
        port.set_low_latency_mode(True)
    return port


def _read_any(port: Port) -> bytes:
    data = bytes(port.read(1))
    if data and (waiting := port.in_waiting):
        data += port.read(min(waiting, CHUNK))
    return data


def _close(port: Port | None) -> None:
    if port is None:
        return
    sock = getattr(port, "_socket", None)
    with suppress(OSError, TypeError, AttributeError):
        port.close()
    if sock is not None:
        sock.close()  # pySerial forgets to if the other side hung up first


def say(error: BaseException) -> str:
    """Why a port is not there, for a person."""
    number = error.errno if isinstance(error, OSError) else None
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return "there is no such device"
    if number in (errno.EACCES, errno.EPERM):
        return "this user may not open it (on Linux: be in the group that owns it, often dialout)"
    if number in (errno.EBUSY, errno.EAGAIN):
        return "another program has it open"
    if number == errno.EIO:
        return "the device is gone"
    return clean(str(error)) or type(error).__name__
