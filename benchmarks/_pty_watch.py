"""``longlace watch --plain`` as a person would start it, in folders of its own, and the figures made of what it says."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from benchmarks._row import Seen

FRAME_MS = 1000.0 / 24.0
TIED = (sys.executable, str(Path(__file__).with_name("_pty_child.py")), "pipe")
"""Before a command: it ends with us, even if we are killed."""
PROGRAM = (sys.executable, "-m", "interlock.cli")


def own_folders(folder: Path) -> dict[str, str]:
    """An environment in which the program keeps everything under ``folder``."""
    env = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "LONGLACE"))}
    for name in ("RUNTIME_DIR", "DATA_HOME", "STATE_HOME", "CACHE_HOME", "CONFIG_HOME"):
        place = folder / name.lower()
        place.mkdir(mode=0o700, exist_ok=True)
        env[f"XDG_{name}"] = str(place)
    return env


class Watch:
    """A live desk that prints its lines to a pipe and keeps its record. A context manager: it is gone afterwards."""

    def __init__(
        self, folder: Path, show: str, program: Sequence[str] = PROGRAM, pass_fds: Sequence[int] = ()
    ) -> None:
        path = folder / "show.toml"
        path.write_text(show, encoding="utf-8")
        self._errors = folder / "errors.txt"
        with self._errors.open("wb") as errors:
            self._process = subprocess.Popen(
                [*TIED, *program, "watch", str(path), "--plain", "--journal", str(folder / "show.llrec")],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=errors, env=own_folders(folder), pass_fds=pass_fds,
            )  # fmt: skip
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._in, self._out = self._process.stdin, self._process.stdout

    @property
    def output(self) -> int:
        """The file descriptor of what it prints."""
        return self._out.fileno()

    def act(self, **action: object) -> None:
        """An operator action."""
        os.write(self._in.fileno(), json.dumps(action).encode() + b"\n")

    def waited_s(self) -> float:
        """How long its loop has been ready to run and had no processor, so far."""
        return waited_s(self._process.pid)

    def end(self) -> None:
        """Ctrl-C; it must end as a watch does."""
        self._process.send_signal(signal.SIGINT)
        if (code := self._process.wait(20)) != 130:
            raise AssertionError(f"the watch ended with {code}: {self._errors.read_text()}")

    def __enter__(self) -> Watch:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.wait()
        self._in.close()
        self._out.close()


def waited_s(pid: int) -> float:
    """How long the main thread of a process has been ready to run and had no processor, so far (Linux)."""
    return int(Path(f"/proc/{pid}/task/{pid}/schedstat").read_text(encoding="utf-8").split()[1]) / 1e9


def seconds_to_alarm(
    code: str, done: Sequence[tuple[float, str]], lines: Sequence[tuple[float, bytes]]
) -> list[float]:
    """Each fact (second, house) with its own alarm, in order. ``AssertionError`` unless all have, and there is no other."""
    said: dict[str, list[float]] = {}
    for at_s, line in lines:
        if b'"kind":"alarm"' not in line:
            continue
        alarm = json.loads(line)
        if alarm["code"] != code:
            raise AssertionError(f"an alarm that has no place here: {line!r}")
        if alarm["state"] == "unacknowledged":
            said.setdefault(alarm["subject"], []).append(at_s)
    asked: dict[str, list[float]] = {}
    for at_s, house in done:
        asked.setdefault(house, []).append(at_s)
    if {k: len(v) for k, v in said.items()} != {k: len(v) for k, v in asked.items()}:
        raise AssertionError(f"{len(done)} facts, {sum(map(len, said.values()))} alarms {code}")
    pairs = sorted((a, b - a) for h in asked for a, b in zip(asked[h], said[h], strict=True))
    return [seconds for _, seconds in pairs]


def at(share: float, seconds: Sequence[float]) -> float:
    """That share of them, in milliseconds."""
    found = sorted(seconds)
    return 1e3 * found[min(len(found) - 1, int(share * len(found)))]


def parts(share: float, seconds: Sequence[float], n: int) -> Seen:
    """The same of all, and the least and the most of ``n`` equal stretches of them."""
    size = max(1, len(seconds) // n)
    each = [at(share, seconds[k * size : (k + 1) * size]) for k in range(n)]
    return Seen(at(share, seconds), min(each), max(each))


def one(value: float) -> Seen:
    """One figure without a spread."""
    return Seen(value, value, value)
