"""A screen whose terminal goes away ends, even where no SIGHUP reaches it."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import time

import pytest

from tui.gone import HANGUP

PROGRAM = """
from textual.app import App
from tui.gone import run_on_terminal

class Shown(App):
    def on_ready(self):
        self.set_interval(0.05, self.refresh)

run_on_terminal(Shown())
"""


@pytest.mark.realtime
def test_a_screen_ends_when_its_terminal_is_pulled_away_without_a_signal() -> None:
    """In a session of its own the terminal is not the one that controls it: nobody tells it but the terminal itself."""
    master, slave = pty.openpty()
    screen = subprocess.Popen(
        [sys.executable, "-c", PROGRAM],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env={**os.environ, "TERM": "xterm-256color"},
        start_new_session=True,
    )
    os.close(slave)
    try:
        drawn = b""
        until = time.monotonic() + 30.0
        while b"\x1b[?1049h" not in drawn and time.monotonic() < until:
            drawn += os.read(master, 65_536)
        assert b"\x1b[?1049h" in drawn, "it never drew anything"
        os.close(master)
        assert screen.wait(10) == HANGUP
    finally:
        screen.kill()
        screen.wait(10)
