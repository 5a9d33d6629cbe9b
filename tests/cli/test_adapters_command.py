"""``longlace adapters`` as somebody runs it in a script: a real process, the real firmware on ptys."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
import serial
from adapters_board import TWO, BoardOnPty

from interlock.service.shows import read_show

pytestmark = pytest.mark.realtime


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
