"""A file's name is outside text as well: no command sends what is in it to the terminal uncleaned."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from interlock.cli import run
from interlock.clock import SystemClock
from interlock.commands.watch import _unended
from interlock.service import recording
from interlock.service.config import Config
from interlock.service.connection import DeskConnection
from interlock.service.in_process import rehearse_summed_up
from interlock.service.on_screen import _last_words
from interlock.service.place import Place
from interlock.service.recording import Left
from interlock.text import shown

TWO = Path(__file__).parents[2] / "configs" / "two-house.toml"
HOSTILE = "we\x1b]0;owned\x07 \x1b[31mird\u202ename"
CLEANED = "we irdname"


def short() -> str:
    """The two-house show, in a minute and a half."""
    return re.sub('runtime = "[0-9:]+"', 'runtime = "0:00:20"', TWO.read_text())


@pytest.fixture(autouse=True)
def own_places(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    """No test sees, or leaves, a desk or a record of whoever runs it."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("record") / "kept.record"
    show = path.with_name("show.toml")
    show.write_text(short())
    config = Config(show=str(show), journal=str(path), rehearsal=True, seed=1)
    assert rehearse_summed_up(config, lambda _: None) == 0
    return path


@pytest.mark.parametrize(
    "command",
    [
        ["check", "FILE"],
        ["odds", "FILE"],
        ["sheets", "FILE", "--out", "sheets"],
        ["route", str(TWO), "--distances", "FILE"],
        ["rehearse", "FILE", "--speed", "max"],
        ["rehearse", str(TWO), "--scenario", "FILE", "--speed", "max"],
        ["watch", "FILE", "--plain"],
        ["attach", "FILE", "--lines"],
        ["station", "FILE"],
        ["verify", "FILE"],
        ["report", "FILE"],
        ["trims", "FILE"],
        ["replay", "FILE"],
    ],
    ids=lambda c: " ".join(c).replace(str(TWO), "SHOW"),
)
def test_a_file_that_is_refused_is_named_cleaned(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    file = tmp_path / f"{HOSTILE}.x"
    file.write_text("kind = ")
    assert run([str(file) if part == "FILE" else part for part in command]) in (1, 2)
    told = capsys.readouterr()
    assert told.out == ""
    assert CLEANED in told.err
    assert all(c.isprintable() or c == "\n" for c in told.err), ascii(told.err)


@pytest.mark.parametrize(
    "command",
    [["verify"], ["report"], ["report", "--out"], ["export", "--out"], ["records"], ["replay"], ["trims"]],
)
def test_a_file_that_is_read_or_written_is_named_cleaned(
    tmp_path: Path, folder: Path, record: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    kept = folder / "data" / "longlace" / "records" / f"{HOSTILE}.record"
    kept.parent.mkdir(parents=True)
    shutil.copy(record, kept)
    name, *out = command
    args = [name, *([str(kept)] if name != "records" else [])]
    if out:
        args += [*out, str(tmp_path / f"{HOSTILE}.md")]
    capsys.readouterr()
    assert run(args) == 0
    told = capsys.readouterr()
    if name not in ("replay", "trims"):  # they have no need to name it
        assert CLEANED in told.out
    assert all(c.isprintable() or c == "\n" for c in told.out + told.err), ascii(told.out + told.err)


def test_a_record_that_is_begun_is_named_cleaned(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    show = folder / f"{HOSTILE}.toml"
    show.write_text(short())
    assert run(["rehearse", str(show), "--speed", "max", "--journal", str(folder / f"{HOSTILE}.record")]) == 0
    told = capsys.readouterr()
    assert CLEANED in told.err
    assert all(c.isprintable() or c == "\n" for c in told.out + told.err), ascii(told.out + told.err)


def test_a_command_that_somebody_is_told_to_type_names_its_file_quoted_and_cleaned(
    folder: Path, record: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    show = folder / f"{HOSTILE}.toml"
    show.write_text(short())
    place = Place(show)
    left = Left(folder / f"{HOSTILE}.record", SystemClock().wall_s())
    monkeypatch.setattr(recording, "left_unended", lambda _: left)
    assert _unended(show, ask=False) is None
    told = [
        capsys.readouterr().err.rstrip(),
        *_last_words(place, None, None, ended_here=False),
        *_last_words(place, str(left.path), "over", ended_here=True),
        DeskConnection(place)._died(),
    ]
    assert len(told) == 5
    for words in (w for w in told if w != "over"):
        assert f"{CLEANED}.{'record' if 'report' in words else 'toml'}'" in words, words
        assert words.isprintable(), ascii(words)


def test_a_desk_that_died_is_told_of_in_a_folder_that_is_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = Place(TWO)
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()
    assert DeskConnection(place)._died().endswith(f"longlace watch {TWO}")


def test_a_name_that_can_be_printed_stays_as_it_is_and_can_be_copied() -> None:
    assert shown("/shows/Lantern  Weather (Föhn).toml") == "/shows/Lantern  Weather (Föhn).toml"
