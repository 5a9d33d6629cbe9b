"""A whole show as fast as it goes, as a program or a person without a terminal runs it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TWO = ROOT / "configs" / "two-house.toml"


@pytest.fixture
def show(tmp_path: Path) -> str:
    """The two-house show with reels of a minute and a half."""
    path = tmp_path / "short.toml"
    path.write_text(re.sub(r'"0:(19:41|20:07|18:30)"', '"0:01:30"', TWO.read_text()))
    return str(path)


def rehearse(*args: str, given: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "interlock.cli", "rehearse", *args],
        input=given,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_every_line_comes_out_numbered_from_0_and_the_same_seed_gives_the_same_lines(show: str) -> None:
    one, again, other = (rehearse(show, "--plain", "--speed", "max", "--seed", s) for s in ("3", "3", "4"))
    assert (one.returncode, one.stderr) == (0, "")
    lines = [json.loads(line) for line in one.stdout.splitlines()]
    assert [line["seq"] for line in lines] == list(range(len(lines)))
    assert all({"seq", "at", "show_s", "kind"} <= line.keys() for line in lines)
    assert [line["at"] for line in lines] == sorted(line["at"] for line in lines)
    phases = [line["phase"] for line in lines if line["kind"] == "show"]
    assert phases == ["waiting", "armed", "starting", "running", "running-out", "ended"]
    assert again.stdout == one.stdout
    assert other.stdout != one.stdout


def test_without_a_show_and_a_terminal_the_demo_runs_to_its_end_and_ten_lines_say_what_happened() -> None:
    done = rehearse()
    assert (done.returncode, done.stderr) == (0, "")
    rows = done.stdout.splitlines()
    assert 6 <= len(rows) <= 10
    assert "simulated machines" in rows[0]
    assert "The show ended at" in rows[-1]


def test_actions_are_taken_from_standard_input_and_nonsense_is_answered(show: str) -> None:
    given = '{"action": "note", "text": "noted", "by": "Ilse"}\nnonsense\n{"action": "speed", "x": 2}\n'
    done = rehearse(show, "--plain", "--speed", "max", "--seed", "3", given=given)
    assert done.returncode == 0
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    errors = [line["text"] for line in lines if line["kind"] == "error"]
    assert len(errors) == 2
    assert "not JSON" in errors[0]
    assert "as fast as it goes" in errors[1]
    said = [line for line in lines if line["kind"] == "operator"]
    assert [(line["action"], line["by"], line["keys"]) for line in said] == [
        ("note", "Ilse", {"text": "noted"})
    ]
    seqs = [line["seq"] for line in lines if line["kind"] != "error"]
    assert seqs == list(range(len(seqs)))


def test_a_reader_that_leaves_ends_the_rehearsal_quietly(show: str) -> None:
    reads, writes = os.pipe()
    with (
        os.fdopen(writes, "wb") as out,
        subprocess.Popen(
            [sys.executable, "-m", "interlock.cli", "rehearse", show, "--plain", "--speed", "max"],
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.PIPE,
        ) as desk,
    ):
        os.read(reads, 100)
        os.close(reads)
        assert desk.wait(30) == 0
        assert desk.stderr is not None
        assert desk.stderr.read() == b""


@pytest.mark.parametrize("scenario", ["none.toml", str(TWO)])
def test_a_scenario_that_cannot_be_read_is_2_with_every_mistake_by_its_line(show: str, scenario: str) -> None:
    done = rehearse(show, "--scenario", scenario, "--speed", "max")
    assert done.returncode == 2
    assert done.stdout == ""
    assert all(line.startswith(f"{scenario}:") for line in done.stderr.splitlines())
