"""Two houses, each with the real firmware on a real pty; `longlace watch --plain`; and a pair of hands.

What the operator reads is `longlace attach --lines` on the same desk.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from hand_board import FILM, HandBoard

from interlock.sentences import sentence
from interlock.watch.state import decode_line

HOUSES = {"north": "1", "south": "2"}
SHOW = """
[show]
title = "Two gates"
film = "35mm-4p"
fps = 24
motor_start = {start}
timezone = "Etc/UTC"
chain = ["1", "2"]
first_picture = "200+00"
[[part]]
name = "The Tide Clerk"
kind = "feature"
runtime = "0:20:00"
[[part]]
name = "tail leader"
kind = "tail"
length = "60 ft"
[[house]]
id = "1"
lamp_lead = "10 s"
[[house]]
id = "2"
lamp_lead = "10 s"
[[link]]
from = "1"
to = "2"
path = "58 ft"
rollers = 7
tight = "2.0 s"
spill = "2.0 s"
"""
ADAPTER = """
[[adapter]]
name = "{name}"
driver = "serial"
port = "{port}"
[adapter.levels]
0 = "{house}.run"
1 = "{house}.lamp"
2 = "{house}.dowser"
{film} = "{house}.film"
[adapter.counters]
0 = {{ signal = "{house}.frames", frames_per_pulse = {each} }}
"""


class HandBooth:
    """A context. ``more``: how each board differs; ``each``: frames a pulse in house 1; ``film``: the film contacts' input."""

    def __init__(self, folder: Path, *, each: float = 1.0, film: int = FILM, **more: dict[str, Any]) -> None:
        self.folder = folder
        self.boards = {name: HandBoard(name, **({"film": film} | more.get(name, {}))) for name in HOUSES}
        self.ports = {name: folder / f"tty-{name}" for name in HOUSES}
        self._each, self._film = each, film
        self._processes: list[subprocess.Popen[bytes]] = []

    @property
    def north(self) -> HandBoard:
        return self.boards["north"]

    @property
    def south(self) -> HandBoard:
        return self.boards["south"]

    def __enter__(self) -> HandBooth:
        return self

    def __exit__(self, *_: object) -> None:
        for process in reversed(self._processes):
            process.send_signal(signal.SIGINT)
            with suppress(subprocess.TimeoutExpired):
                process.wait(8)
            process.kill()
            process.wait()
            if process.stdin is not None:
                process.stdin.close()
        for board in self.boards.values():
            board.end()

    def plug(self, **ports: str) -> None:
        """Every board into its port; ``north="south"``: into that of the other."""
        for name, board in self.boards.items():
            board.plug(self.ports[ports.get(name, name)])

    def watch(self) -> None:
        """The desk, and a reader of its sentences."""
        show = self.folder / "show.toml"
        start = datetime.fromtimestamp(time.time() + 4.0, UTC).isoformat(timespec="milliseconds")
        blocks = [
            ADAPTER.format(
                name=n, port=self.ports[n], house=h, each=self._each if h == "1" else 1, film=self._film
            )
            for n, h in HOUSES.items()
        ]
        show.write_text(SHOW.format(start=start) + "".join(blocks))
        env = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "LONGLACE"))}
        for name in ("RUNTIME_DIR", "DATA_HOME"):
            (self.folder / name.lower()).mkdir(mode=0o700)
            env[f"XDG_{name}"] = str(self.folder / name.lower())
        for words, out in (
            (("watch", str(show), "--plain"), "out"),
            (("attach", str(show), "--lines"), "said"),
        ):
            with (self.folder / out).open("wb") as file:
                process = subprocess.Popen(
                    [sys.executable, "-m", "interlock.cli", *words], stdout=file, stderr=file, env=env,
                    stdin=subprocess.PIPE,
                )  # fmt: skip
            self._processes.append(process)
            if out == "out":
                self.until(lambda: '"kind":"show"' in self._text("out"), 40.0, "the desk did not begin")

    def start(self, run_s: float = 5.0) -> None:
        """Armed, both motors in one instant, and so long on."""
        stdin = self._processes[0].stdin
        assert stdin is not None
        stdin.write(b'{"action": "arm"}\n')
        stdin.flush()
        self.until(lambda: bool(self.lines("show", phase="armed")), 5.0, "it is not armed")
        self.north.start_s = self.south.start_s = time.monotonic() + 0.1
        self.wait(run_s)

    @staticmethod
    def wait(seconds: float) -> None:
        threading.Event().wait(seconds)

    def until(self, what: Callable[[], bool], within_s: float, why: str) -> None:
        ends_s = time.monotonic() + within_s
        while not what():
            assert time.monotonic() < ends_s, f"{why}: {self._text('said')[-1500:]}"
            self.wait(0.05)

    # What the operator sees

    def _text(self, name: str) -> str:
        path = self.folder / name
        return path.read_text(encoding="utf-8") if path.exists() else ""

    def attached(self) -> list[str]:
        """What `attach --lines` has printed since it was there."""
        return self._text("said").splitlines()

    def sentences(self) -> list[str]:
        """The same, and what it would have printed before it was there."""
        lines = [sentence(decode_line(x)) for x in self._text("out").split("\n")[:-1]]
        return self.attached() + [words for words in lines if words is not None]

    def reads(self, words: str, within_s: float = 3.0) -> str:
        """The sentence with these words, once it is there."""
        self.until(lambda: any(words in s for s in self.sentences()), within_s, f"never said {words!r}")
        return next(s for s in self.sentences() if words in s)

    def lines(self, kind: str, **wanted: object) -> list[dict[str, Any]]:
        every = [json.loads(x) for x in self._text("out").split("\n")[:-1]]
        return [x for x in every if x["kind"] == kind and all(x.get(k) == v for k, v in wanted.items())]

    def house(self, house: str) -> dict[str, Any]:
        return self.lines("house", house=house)[-1]

    def drift_fr(self) -> float | None:
        drift: float | None = self.lines("link", link="1>2")[-1]["drift_fr"]
        return drift

    def adapter(self, name: str) -> dict[str, Any]:
        return self.lines("adapter", adapter=name)[-1]

    def raised(self) -> list[tuple[str, str]]:
        """(code, subject) of every alarm that was raised, each once, in order."""
        raised = [(a["code"], a["subject"]) for a in self.lines("alarm", state="unacknowledged")]
        return list(dict.fromkeys(raised))

    def normal(self, code: str, subject: str) -> bool:
        """Whether that alarm's condition is over."""
        return not self.lines("alarm", code=code, subject=subject)[-1]["active"]
