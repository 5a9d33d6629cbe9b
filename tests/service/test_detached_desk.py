"""The desk in a session of its own: real processes, a rehearsal for its machines."""

from __future__ import annotations

import asyncio
import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pty_terminal import Terminal

from interlock.errors import DeskError, DeskRunning, LonglaceError
from interlock.journal import Record
from interlock.service.config import Config
from interlock.service.connection import DeskConnection
from interlock.service.place import Place, Who
from interlock.service.spawn import start_desk
from interlock.watch.state import ErrorLine, Farewell, Frame, Happened, Hello, OperatorLine

ROOT = Path(__file__).parents[2]


@pytest.fixture
def place(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Place]:
    """The place of a rehearsal of the two-house show; whatever desk is left there is ended."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    show = folder / "show.toml"
    show.write_text((ROOT / "configs" / "two-house.toml").read_text())
    found = Place(show, rehearsal=True)
    assert found.folder == folder / "longlace"
    yield found
    who = found.running()
    if who is not None:
        os.kill(who.pid, signal.SIGKILL)


def config(place: Place, **given: object) -> Config:
    return Config(show=str(place.show_path), rehearsal=True, seed=1, **given)  # type: ignore[arg-type]


def streams_of(pid: int) -> set[Path]:
    return {Path(f"/proc/{pid}/fd/{fd}").readlink() for fd in (0, 1, 2)}


async def next_of(kind: type, frames: object) -> Frame:
    async for frame in frames:  # type: ignore[attr-defined]
        if isinstance(frame, kind) or (isinstance(frame, Happened) and isinstance(frame.line, kind)):
            return frame  # type: ignore[no-any-return]
    pytest.fail(f"the desk ended before a {kind.__name__}")


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
    await asyncio.sleep(0.1)
    assert b"runs already" in refused.last
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


def test_attach_lines_tells_a_rehearsal_in_sentences_and_the_keyboard_ends_them_and_not_the_desk(
    place: Place,
) -> None:
    start_desk(config(place, speed=200.0), place)
    attached = subprocess.Popen(
        [sys.executable, "-m", "interlock.cli", "attach", str(place.show_path), "--lines"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert attached.stdout is not None
    with attached:
        seen = [attached.stdout.readline() for _ in range(10)]
        assert all(line.endswith("\n") for line in seen)
        assert any("house" in line for line in seen)
        attached.send_signal(signal.SIGINT)
        assert attached.wait(10) == 130
    assert place.running() is not None  # the keyboard ended the screen and not the desk


def _attached(place: Place) -> tuple[Who, subprocess.Popen[str]]:
    """A desk, and `attach --lines` on it."""
    start_desk(config(place), place)
    who = place.running()
    assert who is not None
    return who, subprocess.Popen(
        [sys.executable, "-m", "interlock.cli", "attach", str(place.show_path), "--lines"],
        stdout=subprocess.PIPE,
        text=True,
    )


def test_attach_lines_ends_with_the_watch_and_says_that_it_has_ended(place: Place) -> None:
    who, attached = _attached(place)
    assert attached.stdout is not None
    with attached:
        assert attached.stdout.readline()
        os.kill(who.pid, signal.SIGTERM)
        said = attached.stdout.read().splitlines()
        assert attached.wait(10) == 0
    assert said[-1] == "THE WATCH HAS ENDED: nothing is watched or recorded"
    assert "told to end (SIGTERM)" in said[-2]


def test_attach_lines_says_that_the_desk_is_not_heard_and_goes_on_with_the_next(place: Place) -> None:
    who, attached = _attached(place)
    assert attached.stdout is not None
    with attached:
        assert attached.stdout.readline()
        os.kill(who.pid, signal.SIGKILL)
        said = [next(line for line in attached.stdout if "THE DESK IS NOT HEARD" in line)]
        if "died" not in said[-1]:
            said.append(attached.stdout.readline())
        assert "the desk has died; start it again: longlace rehearse" in said[-1]
        start_desk(config(place), place)
        assert "The Salt Ladder: " in attached.stdout.readline()
        attached.send_signal(signal.SIGINT)
        assert attached.wait(10) == 130


async def test_who_ends_a_rehearsal_is_told_where_its_record_is_and_its_head(place: Place) -> None:
    record = place.folder / "evening.record"
    terminal = Terminal("rehearse", str(place.show_path), "--journal", str(record))
    await asyncio.wait_for(terminal.shown.wait(), 20)
    for key in (b"q", b"e", b"y"):
        os.write(terminal.fd, key)
        await asyncio.sleep(0.5)
    assert await asyncio.to_thread(terminal.screen.wait, 30) == 0
    await asyncio.sleep(0.1)
    with Record.open(record) as kept:
        assert kept.ended
        assert f"record {record}, head {kept.head}" in terminal.last.decode()
    assert f"longlace report {record}" in terminal.last.decode()
    assert place.running() is None


def test_a_rehearsal_whose_show_is_over_ends_when_nobody_looks_any_more(place: Place) -> None:
    short = re.sub(r'"0:(19:41|20:07|18:30)"', '"0:00:30"', place.show_path.read_text())
    place.show_path.write_text(short)
    start_desk(config(place, speed=1000.0), place)
    who = place.running()
    assert who is not None
    for _ in range(200):
        if place.running() is None:
            break
        subprocess.run(["sleep", "0.1"], check=True)
    assert place.running() is None
    assert "Traceback" not in place.log.read_text()


def test_plain_rehearsal_ended_by_the_keyboard_is_130_and_terminated_is_0(place: Place) -> None:
    for sign, code in ((signal.SIGINT, 130), (signal.SIGTERM, 0)):
        args = ["rehearse", str(place.show_path), "--plain", "--speed", "5", "--seed", "1"]
        desk = subprocess.Popen(
            [sys.executable, "-m", "interlock.cli", *args],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        assert desk.stdout is not None
        with desk:
            first = json.loads(desk.stdout.readline())
            assert (first["seq"], first["kind"], first["phase"]) == (0, "show", "waiting")
            desk.send_signal(sign)
            rest = [json.loads(line) for line in desk.stdout]
            assert desk.wait(10) == code
        assert rest[-1]["kind"] == "operator"
        assert sign.name in rest[-1]["keys"]["text"]
        assert [line["seq"] for line in rest] == list(range(1, len(rest) + 1))


TRIP = 'crew_stops_after = "0.5 s"\n[[fault]]\nat = "00:00:20"\nkind = "trip"\nhouse = "1"\n'


TORN = f'{TRIP}[[fault]]\nat = "00:00:19"\nkind = "splice-parts"\nlink = "1>2"\n'


def rehearse_plain(place: Place, what: str = TRIP, **streams: int) -> subprocess.Popen[str]:
    """A rehearsal in which a machine trips, the crew stops all, and nobody restarts."""
    scenario = place.folder.parent / "trip.toml"
    scenario.write_text(what)
    return subprocess.Popen(
        [sys.executable, "-m", "interlock.cli", "rehearse", str(place.show_path), "--scenario", str(scenario),
         "--seed", "1", "--speed", "200", "--plain"],
        text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **streams,
    )  # fmt: skip


def ended(said: list[dict[str, Any]]) -> dict[str, Any]:
    """The note with which the desk ended: what was said in that moment may still come after it."""
    return next(line for line in reversed(said) if line["kind"] == "operator" and line["action"] == "note")


def test_a_rehearsal_in_which_all_stands_ends_where_nobody_is_left_who_could_restart_it(place: Place) -> None:
    out, err = rehearse_plain(place, stdin=subprocess.DEVNULL).communicate(timeout=30)
    said = [json.loads(line) for line in out.splitlines()]
    assert ended(said)["text"] == "the rehearsal is over: all machines stand, and nobody restarts them"
    assert "stopped" in {line["phase"] for line in said if line["kind"] == "show"}
    assert ended(said)["show_s"] > 300
    assert "restart" not in err


def test_whoever_can_restart_a_rehearsal_in_which_all_stands_is_told_how(place: Place) -> None:
    run = rehearse_plain(place, stdin=subprocess.PIPE)
    assert run.stdin is not None
    assert run.stdout is not None
    assert run.stderr is not None
    with run:
        told = run.stderr.readline()
        assert '{"action": "restart"}' in told
        assert "Ctrl-C ends it" in told
        run.stdin.write('{"action": "restart"}\n')
        run.stdin.flush()
        phases = (json.loads(line).get("phase") for line in run.stdout if '"kind":"show"' in line)
        assert next(p for p in phases if p == "stopped")
        assert next(phases) == "starting"
        run.send_signal(signal.SIGINT)
        run.stdout.read()
        assert run.wait(20) == 130


def test_a_crew_whose_film_has_parted_says_why_it_does_not_start_again_and_the_rehearsal_ends(
    place: Place,
) -> None:
    run = rehearse_plain(place, TORN, stdin=subprocess.PIPE)
    assert run.stdin is not None
    assert run.stdout is not None
    with run:
        for line in run.stdout:
            if json.loads(line).get("phase") == "stopped":
                break
        run.stdin.write('{"action": "restart"}\n')
        run.stdin.flush()
        said = [json.loads(line) for line in run.stdout]
        answer = next(line for line in said if line["kind"] == "error")
        assert "film has parted in 1>2" in answer["text"]
        assert "starting" not in {line.get("phase") for line in said}
        assert (
            ended(said)["text"] == "the rehearsal is over: all machines stand, and the film has parted in 1>2"
        )
        assert run.wait(20) == 0


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
