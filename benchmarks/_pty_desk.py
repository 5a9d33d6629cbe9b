"""A rehearsal's desk as a process, and screens on it, each on a pty of its own. All of it is gone after the ``with``."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import socket
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import msgspec

from benchmarks._pty_watch import TIED, own_folders
from interlock.service.config import Config, Ready
from interlock.service.place import Place
from interlock.watch.state import Farewell, Fresh, Hello, State, decode_frame

COLUMNS, ROWS = 200, 60
TICKS_A_SECOND = os.sysconf("SC_CLK_TCK")
DESK = ("-m", "interlock.service.detached")
LINE = b'{"frame":"line"'
now = time.monotonic


def show_text(houses: int, picture_s: float = 3600.0) -> str:
    """Houses in a row, 12 ft apart, with all contacts and a counter each; eight of them on one adapter."""
    ids = [str(k + 1) for k in range(houses)]
    chain = ", ".join(f'"{h}"' for h in ids)
    text = [
        '[show]\ntitle = "Many gates"\nfilm = "35mm-4p"\nfps = 24\ntimezone = "Etc/UTC"\nfirst_picture = "18+00"',
        f"motor_start = 2026-11-25T20:00:00\nchain = [{chain}]",
        f'[[part]]\nname = "The Tide Clerk"\nkind = "feature"\nruntime = "{picture_s:.0f} s"',
        '[[part]]\nname = "tail"\nkind = "tail"\nlength = "400 ft"',
        '[[cue]]\nat = "The Tide Clerk"\ndo = "masking wide"',
        *[f'[[house]]\nid = "{h}"\nbooth = "{"north" if k % 2 else "south"}"' for k, h in enumerate(ids)],
        *[
            f'[[link]]\nfrom = "{a}"\nto = "{b}"\npath = "12 ft"\nrollers = 4\ntight = "2 s"\nspill = "2 s"'
            for a, b in pairwise(ids)
        ],
    ]
    for n in range(0, houses, 8):
        here = ids[n : n + 8]
        text.append(f'[[adapter]]\nname = "booth{n // 8 + 1}"\ndriver = "simulator"\n[adapter.levels]')
        wired = [f"{h}.{signal}" for h in here for signal in ("run", "lamp", "dowser", "film")]
        text += [f'{k} = "{signal}"' for k, signal in enumerate(wired)]
        text.append("[adapter.counters]")
        text += [f'{k} = {{ signal = "{h}.frames" }}' for k, h in enumerate(here)]
    return "\n".join(text) + "\n"


class RehearsedDesk:
    """The desk process that ``longlace rehearse`` would start, as a child. ``folder`` is its own."""

    def __init__(
        self, folder: Path, show: str, *, speed: float, seed: int = 3, scenario: str | None = None, journal: bool = True,
        program: Sequence[str] = DESK,
    ) -> None:  # fmt: skip
        self.show = folder / "show.toml"
        self.show.write_text(show, encoding="utf-8")
        self.env = own_folders(folder)
        given = None
        if scenario is not None:
            given = folder / "scenario.toml"
            given.write_text(scenario, encoding="utf-8")
        config = Config(
            str(self.show), str(folder / "show.llrec") if journal else None, rehearsal=True,
            scenario=str(given) if given else None, speed=speed, seed=seed,
        )  # fmt: skip
        self.place = Place(self.show, rehearsal=True, folder=Path(self.env["XDG_RUNTIME_DIR"]) / "longlace")
        hear, say = os.pipe()
        with (folder / "desk.log").open("wb") as log:
            self.process = subprocess.Popen(
                [*TIED, sys.executable, *program, msgspec.json.encode(config).decode(), str(say)],
                stdin=subprocess.DEVNULL, stdout=log, stderr=log, pass_fds=(say,), env=self.env,
            )  # fmt: skip
        os.close(say)
        with os.fdopen(hear, "rb") as pipe:
            answer = pipe.read(1_000_000)
        word = msgspec.json.decode(answer, type=Ready) if answer else Ready("it died")
        if word.error is not None:
            self.process.wait()
            raise AssertionError(f"no desk: {word.error}; {(folder / 'desk.log').read_text()[-500:]}")

    def __enter__(self) -> RehearsedDesk:
        return self

    def __exit__(self, *_: object) -> None:
        self.process.send_signal(signal.SIGTERM)
        try:
            self.process.wait(15)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    def until(self, so: Callable[[State], bool], within_s: float = 60.0, **then: object) -> None:
        """Listen as a screen does until the state is so, and then do the action ``then``."""
        with socket.socket(socket.AF_UNIX) as s:
            s.settimeout(within_s)
            s.connect(str(self.place.socket))
            end_s = now() + within_s
            with s.makefile("rb") as file:
                for text in file:
                    if text.startswith(LINE):  # not read: a desk that is sped up says more than we could take
                        continue
                    frame = decode_frame(text)
                    if isinstance(frame, Farewell):
                        raise AssertionError(f"the desk said farewell: {frame.reason}")
                    if isinstance(frame, Hello | Fresh) and so(frame.state):
                        if then:
                            s.sendall(msgspec.json.encode(then) + b"\n")
                        return
                    if now() > end_s:
                        break
        raise TimeoutError(f"the desk did not come so far in {within_s:g} s")


class OnTerminal:
    """A program on a pty of 200 × 60, drained by :func:`drain`."""

    def __init__(self, command: Sequence[str], env: dict[str, str]) -> None:
        self.fd, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        self.process = subprocess.Popen(
            [*TIED[:2], "tty", sys.executable, *command], stdin=slave, stdout=slave, stderr=slave, start_new_session=True,
            env={**env, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
        )  # fmt: skip
        os.close(slave)
        self.drained = 0
        self.last = b""

    def __enter__(self) -> OnTerminal:
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.wait()
        os.close(self.fd)

    def take(self) -> bytes:
        """What it has written. ``AssertionError`` if it has ended."""
        try:
            part = os.read(self.fd, 1 << 16)
        except OSError:
            part = b""
        if not part:
            raise AssertionError(f"the screen ended: {self.last[-400:]!r}")
        self.drained += len(part)
        self.last = (self.last + part)[-4000:]
        return part

    def cpu_s(self) -> float:
        """Processor seconds of all its threads so far."""
        return cpu_s(self.process.pid)


def cpu_s(pid: int) -> float:
    """Processor seconds of a process so far, in hundredths."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS_A_SECOND


def drain(screens: Sequence[OnTerminal], for_s: float) -> None:
    """Read what the screens write for so long."""
    end_s = now() + for_s
    by_fd = {screen.fd: screen for screen in screens}
    while (left_s := end_s - now()) > 0:
        for fd in select.select(list(by_fd), [], [], left_s)[0]:
            by_fd[fd].take()
