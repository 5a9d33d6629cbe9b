"""The station's own screen on a real terminal of 80 × 24, with a real broker and a real desk."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pyte
import pytest
from desk_process import WatchProcess
from mqtt_bench import Broker, needs_mosquitto

pytestmark = [pytest.mark.realtime, pytest.mark.long, needs_mosquitto]
FAR = """
[station]
name = "north"
broker = "127.0.0.1"
port = {port}
tls = false
[[adapter]]
name = "north"
driver = "serial"
port = "{pty}"
[adapter.levels]
0 = "4.run"
"""


class Station:
    """`longlace station` on a terminal, and what stands there."""

    def __init__(self, file: Path) -> None:
        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        self._fd, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "interlock.cli", "station", str(file)],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**os.environ, "TERM": "xterm-256color", "COLUMNS": "80", "LINES": "24"},
        )
        os.close(slave)

    def until(self, what: Callable[[str], bool], within_s: float) -> str:
        ends_s = time.monotonic() + within_s
        while time.monotonic() < ends_s:
            if select.select([self._fd], [], [], 0.1)[0]:
                self._stream.feed(os.read(self._fd, 65_536))
            text = "\n".join(self.screen.display)
            if what(text):
                return text
        raise AssertionError("\n".join(self.screen.display))

    def end(self) -> int:
        self.process.send_signal(signal.SIGTERM)
        try:
            return self.process.wait(5)
        finally:
            self.process.kill()
            self.process.wait()
            os.close(self._fd)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    made = Broker(tmp_path)
    made.start()
    yield made
    made.stop()


def test_the_screen_has_the_houses_and_their_cues_and_says_when_the_booth_is_alone(
    tmp_path: Path, broker: Broker
) -> None:
    (tmp_path / "far.toml").write_text(FAR.format(port=broker.port, pty=tmp_path / "none"))
    station = Station(tmp_path / "far.toml")
    watch = WatchProcess(tmp_path / "desk", broker.port, start_in_s=120.0)
    try:
        text = station.until(lambda t: "THIS BOOTH IS ALONE" in t, 10.0)
        assert "No desk has given this booth its cue sheet yet." in text
        watch.start()
        text = station.until(lambda t: "A desk listens." in t and "open the dowser" in t, 15.0)
        assert "Two gates: waiting, plan time −1:" in text or "Two gates: waiting, plan time −2:00" in text
        assert "house 4: nothing is known of it here" in text, "its adapter is not there"
        assert "house 3: strike the lamp" in text, "the other house of that booth"
        watch.end(signal.SIGKILL)
        text = station.until(lambda t: "THIS BOOTH IS ALONE" in t, 5.0)
        assert "before a motor turned: the plan's times" in text
        assert "house 4: strike the lamp" in text
        assert "no safety device" in text
        first = text.splitlines()[1]
        later = station.until(lambda t: t.splitlines()[1] != first, 3.0)
        assert "THIS BOOTH IS ALONE" in later, "it counts how long"
    finally:
        watch.end(signal.SIGKILL)
        assert station.end() == 0
