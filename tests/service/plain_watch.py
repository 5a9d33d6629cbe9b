"""``longlace watch --plain`` in a process of its own, for the tests."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from typing import Any


class Watch:
    """``longlace watch --plain`` in a process of its own."""

    def __init__(self, *args: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "interlock.cli", "watch", *args, "--plain"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            bufsize=0,  # communicate() would not find what a buffered reader has already taken
        )

    def line(self) -> dict[str, Any]:
        assert self.process.stdout is not None
        text = self.process.stdout.readline()
        assert text, (self.process.stderr or sys.stdin).read()
        return json.loads(text)  # type: ignore[no-any-return]

    def until(self, kind: str) -> list[dict[str, Any]]:
        got = [self.line()]
        while got[-1]["kind"] != kind:
            got.append(self.line())
        return got

    def send(self, **action: object) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(action).encode() + b"\n")
        self.process.stdin.flush()

    def end(self, sign: signal.Signals) -> tuple[int, list[dict[str, Any]], str]:
        self.process.send_signal(sign)
        out, err = self.process.communicate(timeout=20)
        return (
            self.process.returncode,
            [json.loads(t) for t in out.splitlines() if t.endswith(b"}")],
            err.decode(),
        )


def longlace(*args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "interlock.cli", *args],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
