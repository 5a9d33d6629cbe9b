"""A screen ends with its terminal.

A closed terminal sends SIGHUP to the programs that it controls, and they end. One that was started in a session of its own,
or under ``nohup``, hears nothing: its input is at its end for ever, its output fails, and it would spin on that.
"""

from __future__ import annotations

import os
import select
import sys
import threading
from typing import Any

from textual.app import App

HANGUP = 129
"""As a shell says it of a program that SIGHUP ended."""


def run_on_terminal(app: App[Any]) -> None:
    """Run ``app`` on this terminal until it ends; the process ends at once if the terminal goes away."""
    threading.Thread(target=_wait, args=(sys.stdin.fileno(),), name="terminal-gone", daemon=True).start()
    app.run()


def _wait(fd: int) -> None:
    hangup = select.poll()
    hangup.register(fd, 0)  # nothing asked for: a hang-up is told always, and nothing wakes this but that
    if any(event & select.POLLHUP for _, event in hangup.poll()):
        # Nothing is left to restore, and the framework's writer waits for a terminal that takes nothing more.
        os._exit(HANGUP)
    # An error or a closed file, where a terminal cannot be polled: there SIGHUP must do.
