"""A record that a killed desk left: pointed out, and gone on with unless somebody says no."""

from __future__ import annotations

import asyncio
import io
import os
import signal
import sys
from pathlib import Path
from typing import Any

import pytest
import typer
from pty_terminal import Terminal

from interlock.clock import SystemClock
from interlock.commands.watch import _unended
from interlock.service import recording
from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from interlock.service.recording import Left
from interlock.watch.state import Hello


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
            await terminal.says("cut off at")
            await terminal.says("go on with it")
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
