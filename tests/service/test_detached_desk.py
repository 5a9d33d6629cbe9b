"""The desk in a session of its own: real processes, a rehearsal for its machines."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from pathlib import Path

import pytest
from detached import config, next_of
from pty_terminal import Terminal

from interlock.errors import DeskError, DeskRunning, LonglaceError
from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from interlock.service.spawn import start_desk
from interlock.watch.state import ErrorLine, Farewell, Happened, Hello, OperatorLine


def streams_of(pid: int) -> set[Path]:
    return {Path(f"/proc/{pid}/fd/{fd}").readlink() for fd in (0, 1, 2)}


async def test_a_desk_outlives_whoever_started_it_and_serves_and_ends_when_a_screen_says_so(
    place: Place,
) -> None:
    await asyncio.to_thread(start_desk, config(place), place)
    who = place.running()
    assert who is not None
    assert who.pid != os.getpid()
    assert os.getsid(who.pid) == who.pid != os.getsid(0)
    assert await asyncio.to_thread(streams_of, who.pid) == {Path("/dev/null"), place.log}
    os.kill(who.pid, signal.SIGHUP)
    with pytest.raises(DeskRunning):
        await asyncio.to_thread(start_desk, config(place), place)
    screen, other = DeskConnection(place), DeskConnection(place)
    frames, others = screen.frames(), other.frames()
    hello = await next_of(Hello, frames)
    assert isinstance(hello, Hello)
    assert hello.layout.rehearsal
    await next_of(Hello, others)
    screen.send({"action": "note", "text": "all well", "by": "Ilse"})
    for heard in (frames, others):
        note = await next_of(OperatorLine, heard)
        assert isinstance(note, Happened)
        assert isinstance(note.line, OperatorLine)
        assert note.line.by == "Ilse"
    other.end()
    for heard in (frames, others):
        farewell = await next_of(Farewell, heard)
        assert isinstance(farewell, Farewell)
        assert "ended" in farewell.reason
        with pytest.raises(StopAsyncIteration):
            await anext(heard)
    assert place.running() is None
    assert not place.socket.exists()


async def test_speed_and_faults_are_taken_in_a_rehearsal_and_nonsense_is_answered(place: Place) -> None:
    await asyncio.to_thread(start_desk, config(place), place)
    screen = DeskConnection(place)
    frames = screen.frames()
    await next_of(Hello, frames)
    screen.send({"action": "speed", "x": 50})
    said = await next_of(OperatorLine, frames)
    assert isinstance(said, Happened)
    assert isinstance(said.line, OperatorLine)
    assert said.line.refused is None
    screen.send({"action": "fault", "kind": "melt", "house": "1"})
    answer = await next_of(ErrorLine, frames)
    assert isinstance(answer, Happened)
    assert isinstance(answer.line, ErrorLine)
    assert "melt" in answer.line.text
    screen.send({"action": "fault", "kind": "trip", "house": "nine"})
    answer = await next_of(ErrorLine, frames)
    assert isinstance(answer, Happened)
    assert isinstance(answer.line, ErrorLine)
    assert "nine" in answer.line.text
    screen.end()
    await next_of(Farewell, frames)
    await frames.aclose()  # type: ignore[attr-defined]


def _is_file(name: str, path: str | Path) -> bool:
    return Path(name).resolve() == Path(path).resolve()


async def test_a_desk_that_was_killed_is_replaced_and_its_screen_comes_back_by_itself(place: Place) -> None:
    await asyncio.to_thread(start_desk, config(place), place)
    screen = DeskConnection(place)
    frames = screen.frames()
    await next_of(Hello, frames)
    who = place.running()
    assert who is not None
    os.kill(who.pid, signal.SIGKILL)
    said = await next_of(Farewell, frames)
    assert isinstance(said, Farewell)
    while "died" not in said.reason:  # the socket may be gone a moment before the lock is
        assert "trying again" in said.reason
        said = await next_of(Farewell, frames)
        assert isinstance(said, Farewell)
    told, _, name = said.reason.rpartition(" ")
    assert told.endswith("start it again: longlace rehearse")
    assert _is_file(name, place.show_path), "as it is found from here, whichever is shorter"
    screen.send({"action": "arm"})  # into nothing: it must not be believed done
    assert place.socket.exists()  # left behind, and replaced
    await asyncio.to_thread(start_desk, config(place), place)
    answer = await next_of(ErrorLine, frames)
    assert isinstance(answer, Happened)
    assert isinstance(answer.line, ErrorLine)
    assert "arm was not done" in answer.line.text
    await next_of(Hello, frames)
    screen.end()
    await next_of(Farewell, frames)
    await frames.aclose()  # type: ignore[attr-defined]


async def test_a_second_start_of_the_same_show_opens_one_more_screen_on_the_desk_that_runs(
    place: Place,
) -> None:
    first = Terminal("rehearse", str(place.show_path), "--seed", "4")
    await asyncio.wait_for(first.shown.wait(), 20)
    who = place.running()
    assert who is not None
    second = Terminal("rehearse", str(place.show_path))
    await asyncio.wait_for(second.shown.wait(), 20)
    assert place.running() == who
    refused = Terminal("rehearse", str(place.show_path), "--seed", "5")
    assert await asyncio.to_thread(refused.screen.wait, 20) == 2
    await refused.says("runs already")
    for terminal in (first, second, refused):
        terminal.freeze()
        terminal.kill()
    listener = DeskConnection(place)
    frames = listener.frames()
    await next_of(Hello, frames)  # two screens were killed, and the desk serves the next
    listener.end()
    await next_of(Farewell, frames)
    await frames.aclose()  # type: ignore[attr-defined]


def test_what_is_wrong_with_the_show_file_is_told_by_whoever_started_the_desk(place: Place) -> None:
    place.show_path.write_text("[show]\ntitel = 'x'\n")
    with pytest.raises(LonglaceError, match=r"show\.toml:2: ") as told:
        start_desk(config(place), place)
    assert told.value.exit_code == 2
    assert place.running() is None


def test_a_desk_that_dies_without_a_word_is_told_with_its_log(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "executable", "/bin/false")
    with pytest.raises(DeskError, match="before it was ready"):
        start_desk(config(place), place)


async def test_a_rehearsal_that_was_started_fast_says_so_on_every_screen(place: Place) -> None:
    await asyncio.to_thread(start_desk, config(place, speed=5.0), place)
    screen = DeskConnection(place)
    frames = screen.frames()
    hello = await next_of(Hello, frames)
    assert isinstance(hello, Hello)
    if hello.state.speed is None:  # it was quicker than the desk's first reading
        said = await next_of(OperatorLine, frames)
        assert isinstance(said, Happened)
        assert isinstance(said.line, OperatorLine)
        assert (said.line.action, said.line.keys, said.line.refused) == ("speed", {"x": 5.0}, None)
    else:
        assert hello.state.speed == 5.0
    screen.end()
    await next_of(Farewell, frames)
    await frames.aclose()  # type: ignore[attr-defined]
