"""From an alarm at the desk's socket to the bytes that paint it on the terminal: ``longlace attach`` on a real pty.

A desk rehearses sixteen houses at the speed of life. Between it and the screen stands a go-between that passes everything
on and now and then adds an alarm of its own, with a text that was never shown before. Measured is from just before the
alarm is written into the screen's socket until a read of the pty has brought its text.
"""

from __future__ import annotations

import random
import select
import socket
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks._pty_desk import OnTerminal, RehearsedDesk, now, show_text
from benchmarks._pty_watch import at, one, own_folders, parts, waited_s
from benchmarks._row import Row, run
from benchmarks.screen_share import on_picture
from interlock.service.outbox import frame_bytes
from interlock.service.place import Lock, Place
from interlock.watch.state import AlarmLine, Fresh, Happened, Hello, State, decode_frame

ALARMS = 210
HOUSES = 16
PAUSE_S = (0.06, 0.18)
SETTLE_S = 4.0
TOO_LATE_S = 3.0
LINE = b'{"frame":"line"'


class Between:
    """The go-between: the screen's desk, and the desk's screen."""

    def __init__(self, desk: RehearsedDesk, place: Place) -> None:
        self._door = socket.socket(socket.AF_UNIX)
        self._door.bind(str(place.socket))
        self._door.listen()
        self._desk = socket.socket(socket.AF_UNIX)
        self._desk.connect(str(desk.place.socket))
        self._screen: socket.socket | None = None
        self._rest = b""
        self.state: State | None = None
        self.told = 0
        self._seq = 0

    def fds(self) -> list[socket.socket]:
        """What to wait for. The desk is not read before there is a screen."""
        return [self._door] if self._screen is None else [self._desk, self._screen]

    def ready(self, which: socket.socket) -> None:
        """Pass on what is there."""
        if which is self._door:
            self._screen, _ = self._door.accept()
        elif self._screen is not None and which is self._screen:
            if not (data := self._screen.recv(1 << 16)):
                raise AssertionError("the screen went away")
            self._desk.sendall(data)
        elif self._screen is not None:
            whole, lf, self._rest = (self._rest + self._desk.recv(1 << 20)).rpartition(b"\n")
            self._screen.sendall(whole + lf)
            for text in whole.split(b"\n"):
                if text and not text.startswith(LINE):
                    frame = decode_frame(text)
                    self.state = frame.state if isinstance(frame, Hello | Fresh) else self.state

    def alarm(self) -> tuple[float, bytes]:
        """One alarm more: (the second just before it was sent, what to look for on the terminal)."""
        assert self.state is not None
        assert self._screen is not None
        self.told += 1
        # Newer than all that the screen knows, and overtaken by the desk's own lines soon after: then it goes.
        self._seq = max(self._seq, self.state.seq) + 1
        text = f"ZQ{self.told:04d}"
        house = str(1 + self.told % HOUSES)
        line = AlarmLine(
            seq=self._seq, at=self.state.at, show_s=self.state.show_s, code="lamp-out", subject=house,
            state="unacknowledged", priority="high", first_out=True, group=self.state.seq, text=text, values={},
            active=True, since_at=self.state.at, until_at=None,
        )  # fmt: skip
        frame = frame_bytes(Happened(line))
        at_s = now()
        self._screen.sendall(frame)
        return at_s, text.encode()

    def close(self) -> None:
        """All ends."""
        for s in (self._door, self._desk, self._screen):
            if s is not None:
                s.close()


def painted(alarms: int = ALARMS) -> tuple[list[float], str]:
    """Seconds of each alarm from the socket to the terminal; for how much of the time the screen had no processor."""
    chance = random.Random(4)
    with tempfile.TemporaryDirectory() as name:
        folder, other = Path(name) / "desk", Path(name) / "screen"
        folder.mkdir()
        other.mkdir()
        with RehearsedDesk(folder, show_text(HOUSES), speed=30.0) as desk:
            desk.until(on_picture, action="speed", x=1.0)
            env = own_folders(other)
            runtime = Path(env["XDG_RUNTIME_DIR"]) / "longlace"
            runtime.mkdir(mode=0o700)
            place = Place(desk.show, rehearsal=True, folder=runtime)
            lock = Lock(place)
            lock.take("Many gates")
            between = Between(desk, place)
            try:
                with OnTerminal(["-m", "interlock.cli", "attach", str(desk.show)], env) as screen:
                    before_s, began_s = waited_s(screen.process.pid), now()
                    seconds = _alarms(between, screen, alarms, chance)
                    waited = f"{waited_s(screen.process.pid) - before_s:.1f} of {now() - began_s:.0f} s"
                    return seconds, waited
            finally:
                between.close()
                lock.release()


def _alarms(between: Between, screen: OnTerminal, alarms: int, chance: random.Random) -> list[float]:
    seconds: list[float] = []
    waiting: tuple[float, bytes] | None = None
    next_s = now() + SETTLE_S
    while len(seconds) < alarms:
        if waiting is None and now() >= next_s:
            if screen.drained < 10_000 or between.state is None:
                raise AssertionError(f"no board: {screen.last[-400:]!r}")
            waiting = between.alarm()
            screen.last = b""
        pause_s = 0.5 if waiting is not None else max(0.0, next_s - now())
        heard: list[int | socket.socket] = [screen.fd, *between.fds()]
        for which in select.select(heard, [], [], pause_s)[0]:
            if isinstance(which, int):
                screen.take()
                if waiting is not None and waiting[1] in screen.last:
                    seconds.append(now() - waiting[0])
                    waiting, next_s = None, now() + chance.uniform(*PAUSE_S)
            else:
                between.ready(which)
        if waiting is not None and now() - waiting[0] > TOO_LATE_S:
            raise AssertionError(f"alarm {waiting[1].decode()} was not painted in {TOO_LATE_S:g} s")
    return seconds


def measure() -> Iterator[Row]:
    seconds, waited = painted()
    name = f"alarm to painted, {HOUSES} houses, 200×60"
    yield Row(name=f"{name}, median", unit="ms", ours=parts(0.5, seconds, 4))
    late = at(0.99, seconds)
    yield Row(
        name=f"{name}, p99", unit="ms", ours=one(late), target="under 100", reached=late < 100.0,
        held_back=f"the screen's loop was ready and had no processor for {waited}.",
    )  # fmt: skip


if __name__ == "__main__":
    run(measure)
