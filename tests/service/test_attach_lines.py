"""`attach --lines` on a desk in a session of its own: sentences as they are said, until one of the two ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

from detached import config

from interlock.service.place import Place, Who
from interlock.service.spawn import start_desk


def _attached(place: Place, **given: object) -> tuple[Who, subprocess.Popen[str]]:
    """A desk, and `attach --lines` on it."""
    start_desk(config(place, **given), place)
    who = place.running()
    assert who is not None
    return who, subprocess.Popen(
        [sys.executable, "-m", "interlock.cli", "attach", str(place.show_path), "--lines"],
        stdout=subprocess.PIPE,
        text=True,
    )


def test_attach_lines_tells_a_rehearsal_in_sentences_and_the_keyboard_ends_them_and_not_the_desk(
    place: Place,
) -> None:
    who, attached = _attached(place, speed=200.0)
    assert attached.stdout is not None
    with attached:
        seen = [attached.stdout.readline() for _ in range(10)]
        assert all(line.endswith("\n") for line in seen)
        assert any("house" in line for line in seen)
        attached.send_signal(signal.SIGINT)
        assert attached.wait(10) == 130
    assert place.running() == who  # the keyboard ended the screen and not the desk


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
