"""How a rehearsal ends: by the keyboard, by itself, and where nobody is left who could start it again."""

from __future__ import annotations

import asyncio
import json
import os
import re
import signal
import subprocess
import sys
from typing import Any

from detached import config, until_gone
from pty_terminal import Terminal

from interlock.journal import Record
from interlock.service.place import Place
from interlock.service.spawn import start_desk


async def test_who_ends_a_rehearsal_is_told_where_its_record_is_and_its_head(place: Place) -> None:
    record = place.folder / "evening.record"
    terminal = Terminal("rehearse", str(place.show_path), "--journal", str(record))
    await asyncio.wait_for(terminal.shown.wait(), 20)
    for key, answer in (
        (b"q", "leave the desk watching"),
        (b"e", "End the watch for everybody?"),
        (b"y", f"longlace report {record}"),
    ):
        os.write(terminal.fd, key)
        await terminal.says(answer)
    assert await asyncio.to_thread(terminal.screen.wait, 30) == 0
    with Record.open(record) as kept:
        assert kept.ended
        assert f"record {record}, head {kept.head}" in terminal.last.decode(errors="replace")
    assert place.running() is None


def test_a_rehearsal_whose_show_is_over_ends_when_nobody_looks_any_more(place: Place) -> None:
    short = re.sub(r'"0:(19:41|20:07|18:30)"', '"0:00:30"', place.show_path.read_text())
    place.show_path.write_text(short)
    start_desk(config(place, speed=1000.0), place)
    who = place.running()
    assert who is not None
    until_gone(place)
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
