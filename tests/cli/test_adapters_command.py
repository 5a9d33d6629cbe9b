"""``longlace adapters`` as somebody runs it: a real process, the real firmware on ptys, a real terminal."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import select
import signal
import subprocess
import sys
import termios
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyte
import pytest
from adapters_board import BoardOnPty

from interlock.service.shows import read_show

pytestmark = pytest.mark.realtime
ROOT = Path(__file__).parents[2]
TWO = ROOT / "configs" / "two-house.toml"


def longlace(*args: str, **kwargs: Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "interlock.cli", "adapters", *args],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        **kwargs,
    )


def test_each_port_is_told_in_a_row_whatever_is_there(tmp_path: Path) -> None:
    mute = pty.openpty()
    with BoardOnPty("south") as board, BoardOnPty() as other:
        other.noise = True
        done = longlace(
            *("--port", board.path, "--port", os.ttyname(mute[1]), "--port", other.path),
            *("--port", str(tmp_path / "none"), "--wait", "1"),
        )
    for fd in mute:
        os.close(fd)
    rows = done.stdout.splitlines()
    assert (done.returncode, done.stderr) == (0, "")
    assert rows[0] == f"{board.path}: south: 5 contact inputs, 2 counters, 1 analog input"
    assert rows[1].endswith("not a word: no adapter, or one without its firmware")
    assert rows[2].endswith("what comes in is no adapter line: another baud rate, or another device")
    assert rows[3].endswith("cannot be used: there is no such device")


def test_no_adapter_is_exit_code_1_and_a_file_that_is_not_there_is_2(tmp_path: Path) -> None:
    gone = str(tmp_path / "none")
    assert longlace("--port", gone, "--wait", "0.3").returncode == 1
    done = longlace("--port", gone, "--write", str(tmp_path / "none.toml"))
    assert (done.returncode, done.stdout) == (2, "")
    assert "there is no such file" in done.stderr


def test_a_port_that_another_program_has_open_is_left_alone() -> None:
    import serial  # noqa: PLC0415 - only here

    with BoardOnPty() as board, serial.Serial(board.path, exclusive=True):
        done = longlace("--port", board.path, "--wait", "0.5")
    assert done.returncode == 1
    assert "another program has it open" in done.stdout


def test_json_has_the_inputs_as_they_are() -> None:
    with BoardOnPty() as board:
        board.closed[3] = True
        done = longlace("--port", board.path, "--json")
    (found,) = json.loads(done.stdout)["ports"]
    assert (found["adapter"], found["found"]) == ("north", "adapter")
    assert found["levels"] == [False, False, False, True, False]
    assert found["analogs"] == [2055]


def test_a_contact_that_is_closed_by_hand_is_named_and_a_counter_once() -> None:
    with BoardOnPty() as board:
        board.bounce = 2
        board.pulses_every_ms = {1: 42}
        done = longlace("--port", board.path, "--live", "--for", "1.2")
    assert done.returncode == 0
    moves = done.stdout.splitlines()[1:]
    assert moves.count("north contact 2: closed") >= 2
    assert moves.count("north contact 2: open") >= 2
    assert sum(m.startswith("north counter 1") for m in moves) == 1
    assert all("contact 2" in m or "counter 1" in m for m in moves)


def test_the_block_goes_to_the_end_of_the_show_file_every_comment_is_kept_and_the_show_still_reads(
    tmp_path: Path,
) -> None:
    show = tmp_path / "show.toml"
    before = TWO.read_text() + "# my last word, without a line end"
    show.write_text(before)
    show.chmod(0o640)
    with BoardOnPty("gate-room") as board:
        board.bounce = 4
        done = longlace("--port", board.path, "--live", "--for", "0.6", "--write", str(show))
        assert (done.returncode, done.stderr) == (0, "")
        again = longlace("--port", board.path, "--write", str(show))
    after = show.read_text()
    assert after.startswith(before)
    added = after[len(before) :]
    assert f'port = "{board.path}"' in added
    assert '# 4 = "1.run"   # moved while it was watched' in added
    assert added.count("moved while") == 1
    assert [a.name for a in read_show(show).adapters][-1] == "gate-room"
    assert show.stat().st_mode & 0o777 == 0o640
    assert [p.name for p in tmp_path.iterdir()] == ["show.toml"]
    assert again.returncode == 2
    line = after.splitlines().index('name = "gate-room"') + 1
    assert again.stderr.startswith(f"{show}:{line}: adapter: an adapter called gate-room is there already")
    assert show.read_text() == after


def test_the_block_with_every_hash_taken_away_is_a_whole_wiring(tmp_path: Path) -> None:
    with BoardOnPty() as board:
        done = longlace("--port", board.path, "--write", "-")
    block = done.stdout[done.stdout.index("[[adapter]]") :]
    opened = "\n".join(row[2:] if row[:3] in ("# 0", "# 1", "# 2") else row for row in block.splitlines())
    (adapter,) = tomllib.loads(opened)["adapter"]
    assert adapter["levels"] == {"0": "1.run", "1": "1.lamp", "2": "1.dowser"}
    assert adapter["counters"]["1"] == {"signal": "1.frames", "frames_per_pulse": 1}
    assert adapter["analogs"]["0"]["signal"] == "1>2.arm"


def test_a_name_that_was_made_to_hurt_is_only_a_name(tmp_path: Path) -> None:
    show = tmp_path / "show.toml"
    show.write_text(TWO.read_text())
    with BoardOnPty('a"]\\x[red]') as board:
        done = longlace("--port", board.path, "--write", str(show))
    assert 'a"]\\x[red]: 5 contact inputs' in done.stdout
    assert tomllib.loads(show.read_text())["adapter"][-1]["name"] == 'a"]\\x[red]'


def test_two_adapters_of_one_name_are_told_and_not_written(tmp_path: Path) -> None:
    show = tmp_path / "show.toml"
    show.write_text(TWO.read_text())
    with BoardOnPty() as one, BoardOnPty() as two:
        done = longlace("--port", one.path, "--port", two.path, "--write", str(show))
    assert done.returncode == 2
    assert "Two adapters call themselves north" in done.stdout
    assert show.read_text() == TWO.read_text()


# On a terminal. ───────────────────────────────────────────────────────────────


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
