"""A show of two houses behind a station, and `longlace watch --plain` on it as a process of its own."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import aiomqtt

from interlock.sentences import sentence
from interlock.watch.state import decode_line

NORTH = """\
[adapter.levels]
0 = "4.run"
1 = "4.lamp"
2 = "4.dowser"
[adapter.counters]
0 = {{ signal = "4.frames", frames_per_pulse = 0.5 }}
[adapter.analogs]
0 = {{ signal = "4>3.arm", tight_at = 310, spill_at = 3800 }}
"""
"""How the far booth's adapter is wired, in its own file and in the show file alike."""
SHOW = (
    """
[show]
title = "Two gates"
film = "35mm-4p"
fps = 24
motor_start = {start}
timezone = "Etc/UTC"
chain = ["4", "3"]
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
id = "4"
booth = "far"
lamp_lead = "10 s"
[[house]]
id = "3"
booth = "far"
lamp_lead = "10 s"
[[link]]
from = "4"
to = "3"
path = "30 ft"
rollers = 5
tight = "2.0 s"
spill = "2.0 s"
[[adapter]]
name = "north"
driver = "mqtt"
station = "north"
broker = "{broker}"
port = {port}
{link}
{more}
"""
    + NORTH
)


class WatchProcess:
    """``wrap``: what the command is put behind (``ip netns exec …``)."""

    def __init__(
        self,
        folder: Path,
        port: int,
        *,
        broker: str = "127.0.0.1",
        link: str = "tls = false",
        more: str = "",
        start_in_s: float = 3600.0,
        wrap: tuple[str, ...] = (),
    ) -> None:
        folder.mkdir(exist_ok=True)
        self.folder, self._wrap = folder, wrap
        start = datetime.now(UTC) + timedelta(seconds=start_in_s)
        self.show = folder / "show.toml"
        self.show.write_text(
            SHOW.format(start=start.isoformat(), port=port, broker=broker, link=link, more=more)
        )
        self._out = folder / "out.jsonl"
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        env = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "LONGLACE"))}
        for name in ("RUNTIME_DIR", "DATA_HOME"):
            (self.folder / name.lower()).mkdir(mode=0o700, exist_ok=True)
            env[f"XDG_{name}"] = str(self.folder / name.lower())
        with self._out.open("ab") as out:
            self._process = subprocess.Popen(
                [*self._wrap, sys.executable, "-m", "interlock.cli", "watch", str(self.show), "--plain"],
                stdin=subprocess.PIPE,
                stdout=out,
                stderr=subprocess.DEVNULL,
                env=env,
            )

    def say(self, **action: object) -> None:
        assert self._process is not None
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps(action).encode() + b"\n")
        self._process.stdin.flush()

    def end(self, how: signal.Signals = signal.SIGINT) -> int:
        if self._process is None:
            return 0
        self._process.send_signal(how)
        try:
            return self._process.wait(10)
        finally:
            self._process.kill()
            self._process.wait()
            if self._process.stdin is not None:
                self._process.stdin.close()
            self._process = None

    def lines(self, kind: str = "", **wanted: object) -> list[dict[str, Any]]:
        found = []
        for text in self._out.read_text(encoding="utf-8").split("\n")[:-1]:
            line = json.loads(text)
            if kind in ("", line["kind"]) and all(line.get(k) == v for k, v in wanted.items()):
                found.append(line)
        return found

    def sentences(self) -> list[str]:
        """The same in words, as `attach --lines` has them."""
        every = [sentence(decode_line(x)) for x in self._out.read_text(encoding="utf-8").split("\n")[:-1]]
        return [words for words in every if words is not None]

    async def until(self, within_s: float, kind: str, **wanted: object) -> dict[str, Any]:
        """The first such line."""
        async with asyncio.timeout(within_s):
            while not (found := self.lines(kind, **wanted)):  # noqa: ASYNC110 - another process writes them
                await asyncio.sleep(0.05)
        return found[0]


async def retained(port: int, topics: str = "longlace/booth/desk/#", for_s: float = 0.5) -> dict[str, bytes]:
    """What the broker gives to whoever comes new."""
    found: dict[str, bytes] = {}
    async with aiomqtt.Client("127.0.0.1", port, protocol=aiomqtt.ProtocolVersion.V5) as client:
        await client.subscribe(topics)
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(for_s):
                async for message in client.messages:
                    if message.retain:
                        found[str(message.topic).removeprefix("longlace/booth/desk/")] = bytes(
                            message.payload
                        )  # type: ignore[arg-type]
    return found
