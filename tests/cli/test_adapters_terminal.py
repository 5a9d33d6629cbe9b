"""``longlace adapters`` on a real terminal: what stands there, and what keys and Ctrl-C do."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import signal
import sys
import termios
from collections.abc import Callable
from pathlib import Path

import pyte
import pytest
from adapters_board import TWO, BoardOnPty

pytestmark = pytest.mark.realtime


class Terminal:
    """The command on a terminal of 100 columns, and what stands there."""

    def __init__(self, *args: str) -> None:
        self.screen = pyte.Screen(100, 30)
        self._stream = pyte.ByteStream(self.screen)
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            os.environ["COLUMNS"] = "100"
            os.execv(sys.executable, [sys.executable, "-m", "interlock.cli", "adapters", *args])

    def _read(self) -> bytes:
        """What comes next; a command that says nothing for long has failed the test, and must not hold it up."""
        ready, _, _ = select.select([self._fd], [], [], 20.0)
        if not ready:
            os.kill(self.pid, signal.SIGKILL)
            raise AssertionError("not a word for 20 s:\n" + "\n".join(self.screen.display))
        return os.read(self._fd, 4096)

    def until(self, what: Callable[[str], bool]) -> str:
        """Read until it stands there."""
        text = ""
        for _ in range(2000):
            try:
                self._stream.feed(self._read())
            except OSError:
                break
            text = "\n".join(self.screen.display)
            if what(text):
                return text
        raise AssertionError(text)

    def type(self, keys: bytes) -> None:
        os.write(self._fd, keys)

    def end(self, look: Callable[[int], bool] = lambda fd: True) -> int:
        with contextlib.suppress(OSError):
            while data := self._read():
                self._stream.feed(data)
        assert look(self._fd)
        _, status = os.waitpid(self.pid, 0)
        os.close(self._fd)
        return os.waitstatus_to_exitcode(status)


def test_on_a_terminal_inputs_are_shown_as_they_move_and_enter_ends_it() -> None:
    with BoardOnPty() as board:
        terminal = Terminal("--port", board.path)
        terminal.until(lambda t: "○ open" in t)
        board.closed[3] = True
        text = terminal.until(lambda t: "● closed" in t)
        assert "▸ 3 ● closed" in text
        assert text.count("▸") == 2, "the one that moved, and the word about it"
        terminal.type(b"\r")
        assert terminal.end() == 0


@pytest.mark.long
def test_enter_leaves_one_drawing_and_the_terminal_as_it_was() -> None:
    with BoardOnPty() as board:
        terminal = Terminal("--port", board.path)
        was = termios.tcgetattr(terminal._fd)[3]
        terminal.until(lambda t: "○ open" in t)
        terminal.type(b"\r")
        terminal.until(lambda t: "nothing written" in t)
        assert terminal.end(look=lambda fd: termios.tcgetattr(fd)[3] == was) == 0
        shown = "\n".join(terminal.screen.display)
        assert shown.count("north: 5 contact inputs") == 2, "in the list, and above the inputs"


@pytest.mark.long
def test_a_show_that_has_no_room_for_it_is_told_before_anybody_closes_a_contact(tmp_path: Path) -> None:
    show = tmp_path / "show.toml"
    show.write_text(TWO.read_text().replace('name   = "booth"', 'name   = "north"'))
    assert '"north"' in show.read_text()
    with BoardOnPty() as board:
        terminal = Terminal("--port", board.path, "--write", str(show))
        assert terminal.end() == 2, "without Enter"
    assert "an adapter called north is there already" in " ".join("".join(terminal.screen.display).split())


@pytest.mark.long
def test_a_port_that_vanishes_while_it_is_watched_is_told_and_the_others_go_on() -> None:
    with BoardOnPty("south") as other:
        board = BoardOnPty()
        board.__enter__()
        terminal = Terminal("--port", board.path, "--port", other.path)
        terminal.until(lambda t: t.count("○ open") >= 10)
        board.__exit__()
        terminal.until(lambda t: "nothing comes in now" in t)
        other.closed[1] = True
        text = terminal.until(lambda t: "● closed" in t)
        assert "▸ 1 ● closed" in text
        assert text.count("nothing comes in now") == 1
        terminal.type(b"\r")
        assert terminal.end() == 0


def test_ctrl_c_leaves_with_130_and_writes_nothing(tmp_path: Path) -> None:
    show = tmp_path / "show.toml"
    show.write_text(TWO.read_text())
    with BoardOnPty() as board:
        terminal = Terminal("--port", board.path, "--write", str(show))
        terminal.until(lambda t: "○ open" in t)
        os.kill(terminal.pid, signal.SIGINT)
        assert terminal.end() == 130
    assert show.read_text() == TWO.read_text()


def test_an_adapter_that_falls_silent_is_not_shown_as_if_it_spoke() -> None:
    with BoardOnPty() as board:
        terminal = Terminal("--port", board.path)
        terminal.until(lambda t: "○ open" in t)
        board._stop.set()
        terminal.until(lambda t: "nothing comes in now" in t)
        terminal.type(b"\r")
        assert terminal.end() == 0
