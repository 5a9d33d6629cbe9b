"""``watch`` with its record: real processes, a real record, an adapter that is not plugged in."""

from __future__ import annotations

import asyncio
import io
import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import typer
from pty_terminal import Terminal

from interlock.clock import SystemClock
from interlock.commands.watch import _unended
from interlock.journal import Record
from interlock.service import recording
from interlock.service.config import Config
from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from interlock.service.recording import Left
from interlock.service.spawn import start_desk
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor
from interlock.watch.state import Hello

ROOT = Path(__file__).parents[2]


@pytest.fixture
def show(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The two-house show with a serial adapter that is not there."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    text = (ROOT / "configs" / "two-house.toml").read_text()
    path = folder / "show.toml"
    path.write_text(text.replace('driver = "simulator"', f'driver = "serial"\nport = "{folder}/not-there"'))
    return path


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


@pytest.fixture
def watch() -> Iterator[Any]:
    started: list[Watch] = []

    def start(*args: str) -> Watch:
        started.append(Watch(*args))
        return started[-1]

    yield start
    for w in started:
        if w.process.poll() is None:
            w.process.kill()
        w.process.communicate(timeout=20)


def longlace(*args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "interlock.cli", *args],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_a_watch_ended_by_the_keyboard_leaves_a_whole_record_that_folds_again_to_the_same_lines(
    show: Path, watch: Any
) -> None:
    record = show.with_name("one.record")
    w = watch(str(show), "--journal", str(record))
    w.send(action="note", text="seen", by="Ilse")
    lines = w.until("operator")
    code, rest, err = w.end(signal.SIGINT)
    lines += rest
    assert code == 130
    assert [line["seq"] for line in lines] == list(range(len(lines)))
    verified = longlace("verify", str(record))
    assert (verified.returncode, verified.stderr) == (0, "")
    head = err.strip().rsplit(" ", 1)[-1]
    assert longlace("verify", str(record), "--head", head).returncode == 0
    assert longlace("verify", str(record), "--head", "0" * 64).returncode == 1
    with Record.open(record) as r:
        assert r.ended
        assert r.meta.show_source == show.read_text()
        inputs = [x for _, x in r.inputs()]
    assert isinstance(inputs[0], Anchor)
    from interlock.service.shows import read_show  # noqa: PLC0415 - only here

    desk = Desk(read_show(show), inputs[0])
    again = [line for x in inputs for line in desk.step(x)]
    assert [(line.seq, line.at) for line in again] == [(line["seq"], line["at"]) for line in lines]
    assert [x.text for x in inputs if isinstance(x, Action)] == [
        "seen",
        "the watch was ended by the keyboard (SIGINT)",
    ]
    refused = longlace("watch", str(show), "--journal", str(record), "--plain")
    assert refused.returncode == 2
    assert refused.stdout == ""
    assert str(record) in refused.stderr


def test_a_watch_that_was_killed_is_taken_up_with_its_record_where_it_was(show: Path, watch: Any) -> None:
    record = show.with_name("one.record")
    first = watch(str(show), "--journal", str(record))
    first.send(action="handover", by="Ilse", booth="north")
    before = first.until("operator")
    while True:  # what is on the disk has been there for a while: a kill loses at most the last 100 ms
        before.append(first.line())
        if len(before) > 20:
            break
    first.end(signal.SIGKILL)
    assert longlace("verify", str(record)).returncode == 1  # it has no end
    again = watch(str(show), "--journal", str(record))
    again.send(action="note", text="back")
    lines = again.until("operator")
    code, _, _ = again.end(signal.SIGINT)
    assert code == 130
    assert lines[0]["seq"] > before[0]["seq"]
    assert [line["seq"] for line in lines] == list(range(lines[0]["seq"], lines[0]["seq"] + len(lines)))
    assert lines[0]["at"] >= before[-5]["at"]
    assert longlace("verify", str(record)).returncode == 0
    with Record.open(record) as r:
        actions = [x.text or x.by for _, x in r.inputs() if isinstance(x, Action)]
        times = [x.at_s for _, x in r.inputs()]
    assert actions[:2] == ["Ilse", "back"]
    assert all(b >= a - 0.2 for a, b in pairwise(times)), "desk time went back"


def test_a_second_plain_watch_gets_a_snapshot_and_its_end_ends_only_itself(show: Path, watch: Any) -> None:
    first = watch(str(show))
    first.until("adapter")
    second = watch(str(show))
    snapshot = second.line()
    assert (snapshot["kind"], snapshot["phase"]) == ("show", "waiting")
    second.send(action="note", text="from the second")
    assert second.until("operator")[-1]["keys"] == {"text": "from the second"}
    second.send(action="explode")
    assert "explode" in second.until("error")[-1]["text"]
    assert second.end(signal.SIGINT)[0] == 130
    first.send(action="note", text="still here")
    said = [first.until("operator")[-1]["keys"]["text"] for _ in range(2)]
    assert said == ["from the second", "still here"]
    assert first.end(signal.SIGTERM)[0] == 0


def test_a_detached_watch_keeps_its_record_where_records_are_kept(show: Path) -> None:
    place = Place(show)
    start_desk(Config(str(show)), place)
    who = place.running()
    assert who is not None
    os.kill(who.pid, signal.SIGTERM)
    for _ in range(100):
        if place.running() is None:
            break
        subprocess.run(["sleep", "0.1"], check=True)
    assert place.running() is None
    listed = longlace("records")
    assert listed.returncode == 0
    assert "The Salt Ladder" in listed.stdout
    assert "ended" in listed.stdout
    assert len(listed.stdout.splitlines()) == 1


def test_a_record_left_by_a_killed_desk_is_pointed_out_to_whoever_starts_anew(show: Path, watch: Any) -> None:
    first = watch(str(show))
    for _ in range(12):
        first.line()
    first.end(signal.SIGKILL)
    second = watch(str(show))
    second.line()
    code, _, err = second.end(signal.SIGINT)
    assert code == 130
    assert "--journal" in err.splitlines()[0]
    assert "goes on with it" in err.splitlines()[0]


async def test_on_a_terminal_a_killed_desks_record_is_gone_on_with_unless_somebody_says_no(
    show: Path, watch: Any
) -> None:
    first = watch(str(show))
    for _ in range(12):
        first.line()
    first.end(signal.SIGKILL)
    (left,) = (show.parent / "data").rglob("*.record")
    for said, goes_on in ((b"perhaps\nn\n", False), (b"\n", True)):
        terminal = Terminal("watch", str(show))
        try:
            for _ in range(100):
                if b"cut off at" in terminal.last:
                    break
                await asyncio.sleep(0.1)
            assert b"go on with it" in terminal.last
            os.write(terminal.fd, said)
            await asyncio.wait_for(terminal.shown.wait(), 20)
            screen = DeskConnection(Place(show))
            frames = screen.frames()
            hello = await anext(aiter(frames))
            assert isinstance(hello, Hello)
            assert (hello.layout.record == str(left)) is goes_on
            screen.end()
            async for _ in frames:
                pass
        finally:
            terminal.freeze()
            terminal.kill()
        for ended in (show.parent / "data").rglob("*.record"):
            if ended != left:
                ended.unlink()


def test_a_folder_that_cannot_be_written_does_not_keep_the_show_from_being_watched(
    show: Path, watch: Any
) -> None:
    in_the_way = show.with_name("file")
    in_the_way.write_text("")
    w = watch(str(show), "--journal", str(in_the_way / "x.record"))
    alarm = next(line for line in iter(w.line, None) if line["kind"] == "alarm")
    assert (alarm["code"], alarm["subject"]) == ("record-failing", "desk")
    code, _, err = w.end(signal.SIGINT)
    assert code == 130
    assert "not on the disk" in err


@pytest.mark.parametrize(
    ("minutes", "typed", "goes_on"),
    [(2, "\n", True), (2, "g\n", True), (2, "n\n", False), (120, "\n\nn\n", False), (120, "\ng\n", True)],
)
def test_a_record_that_was_cut_off_long_ago_is_gone_on_with_only_if_that_is_said(
    show: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    minutes: int,
    typed: str,
    goes_on: bool,
) -> None:
    found = Left(show.parent / "left.record", SystemClock().wall_s() - 60.0 * minutes)
    monkeypatch.setattr(recording, "left_unended", lambda _: found)
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    assert (_unended(show, ask=True) == found.path) is goes_on
    told = capsys.readouterr().err
    assert f"{minutes} min ago" in told
    assert ("g Enter  go on" in told) is (minutes > 15)


def test_who_answers_nothing_to_whether_a_record_is_gone_on_with_starts_no_desk(
    show: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = Left(show.parent / "left.record", SystemClock().wall_s())
    monkeypatch.setattr(recording, "left_unended", lambda _: found)
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    with pytest.raises(typer.Exit) as left:
        _unended(show, ask=True)
    assert left.value.exit_code == 130
