"""The commands as somebody runs them: exit codes, where words go, and how long ``--help`` takes. Real processes."""

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


def longlace(*args: str, **kwargs: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "interlock.cli", *args],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        **kwargs,  # type: ignore[call-overload]
    )


@pytest.fixture(autouse=True)
def own_places(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    """No test sees, or leaves, a desk or a record of whoever runs it."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    monkeypatch.setenv("TMPDIR", str(folder))  # there a desk is looked for as well
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    monkeypatch.setenv("XDG_STATE_HOME", str(folder / "state"))


def test_help_lists_every_command_and_imports_none_of_them() -> None:
    code = (
        "import sys; from interlock.cli import run, COMMANDS; run(['--help'])\n"
        "heavy = [m for m in ('pydantic', 'msgspec', 'textual', 'numpy', 'serial', 'asyncio', 'sqlite3', 'rich')"
        " if m in sys.modules]\n"
        "sys.exit(f'imported: {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    from interlock.cli import COMMANDS  # noqa: PLC0415 - only its table

    for name in COMMANDS:
        assert f"\n  {name} " in done.stdout


def test_a_command_that_there_is_not_is_answered_with_the_nearest_and_the_version_is_told() -> None:
    slip = longlace("watsh", "show.toml")
    assert slip.returncode == 2
    assert slip.stdout == ""
    assert "No such command 'watsh'; did you mean 'watch'?" in slip.stderr
    assert "`longlace --help` lists them all" in longlace("qqq").stderr
    told = longlace("--version")
    assert told.returncode == 0
    assert re.fullmatch(r"longlace [0-9]+\.[0-9]+\S*\n", told.stdout)


def test_a_scenario_given_as_the_show_and_a_show_as_the_scenario_are_told_as_what_they_are() -> None:
    scenario = ROOT / "configs" / "scenarios" / "demo.toml"
    for args, words in (
        (("check", str(scenario)), "is a scenario of faults (longlace rehearse SHOW --scenario FILE)"),
        (
            ("rehearse", str(TWO), "--scenario", str(TWO), "--speed", "max"),
            "is a show file, expected a scenario",
        ),
    ):
        done = longlace(*args)
        assert done.returncode == 2
        assert len(done.stderr.splitlines()) == 1
        assert f"{args[1] if args[0] == 'check' else TWO}:0: file: {words}" in done.stderr


def test_every_command_in_the_table_has_a_help_of_its_own() -> None:
    from interlock.cli import COMMANDS  # noqa: PLC0415 - only its table

    for name in COMMANDS:
        done = longlace(name, "--help")
        assert done.returncode == 0, done.stderr
        assert done.stdout.startswith(f"Usage: longlace {name}")


@pytest.mark.parametrize(
    "args",
    [
        ("explode",),
        ("check",),
        ("check", "a.toml", "b.toml"),
        ("check", "--fast", "a.toml"),
        ("rehearse", str(TWO), "--speed", "quick"),
        ("rehearse", str(TWO), "--speed", "0"),
        ("rehearse", str(TWO), "--speed", "nan"),
        ("rehearse", str(TWO), "--seed", "-1"),
        ("rehearse", "no-such-show.toml", "--speed", "max"),
        ("check", "no-such-show.toml"),
        ("watch", "no-such-show.toml", "--plain"),
        ("watch", str(TWO)),
        ("verify", "no-such-record"),
    ],
    ids=" ".join,
)
def test_wrong_use_is_2_with_the_reason_on_standard_error_and_nothing_on_standard_output(
    args: tuple[str, ...],
) -> None:
    done = longlace(*args, stdin=subprocess.DEVNULL)
    assert done.returncode == 2, (done.stdout, done.stderr)
    assert done.stdout == ""
    assert done.stderr.strip()
    assert "Traceback" not in done.stderr


def test_every_mistake_in_a_show_file_is_one_unwrapped_line_with_its_place(tmp_path: Path) -> None:
    show = tmp_path / "show.toml"
    text = TWO.read_text().replace("fps ", "fpss ", 1).replace("film ", "flim ", 1)
    show.write_text(text)
    done = longlace("check", str(show), env={**os.environ, "COLUMNS": "40"})
    assert done.returncode == 2
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert len(lines) >= 2
    for line in lines:
        path, number, _ = line.split(":", 2)
        assert path == str(show)
        assert int(number) >= 0


def test_check_prints_a_plan_for_people_and_one_document_for_programs() -> None:
    words = longlace("check", str(TWO))
    assert (words.returncode, words.stderr) == (0, "")
    assert len(words.stdout.splitlines()) > 5
    document = longlace("check", str(TWO), "--json")
    assert document.returncode == 0
    assert set(json.loads(document.stdout)) >= {"show", "parts", "houses", "links", "notes"}


def test_attach_is_1_when_no_desk_runs() -> None:
    for args in (("attach", "--lines"), ("attach", str(TWO), "--lines")):
        done = longlace(*args)
        assert done.returncode == 1
        assert done.stdout == ""
        assert "longlace watch" in done.stderr


def test_a_reader_that_leaves_early_is_no_error() -> None:
    reads, writes = os.pipe()
    os.close(reads)
    with os.fdopen(writes, "wb") as out:
        done = subprocess.run(
            [sys.executable, "-m", "interlock.cli", "check", str(TWO), "--json"],
            stdout=out,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.stderr == ""
    assert done.returncode == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("args", [["check", str(TWO)], ["rehearse", str(TWO), "--plain", "--speed", "max"]])
def test_words_that_find_no_room_are_said_to_be_lost(args: list[str]) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "interlock.cli", *args],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
            check=False,
        )
    assert done.returncode == 2
    assert "cannot be written: No space left on device" in done.stderr
    assert "Traceback" not in done.stderr
