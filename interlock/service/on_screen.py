"""Starting a desk that outlives the screen, and opening a screen on one."""

from __future__ import annotations

import sys

from interlock.errors import DeskRunning, UsageError
from interlock.service.config import Config
from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from interlock.service.spawn import start_desk


def has_terminal() -> bool:
    """Whether a screen can be opened here."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def start_and_show(config: Config) -> int:
    """Start the desk, or find it running, and open a screen on it; the exit code."""
    need_terminal()
    place = Place(config.show, rehearsal=config.rehearsal)
    who = place.running()
    if who is None:
        try:
            start_desk(config, place)
        except DeskRunning:  # somebody else was quicker by a moment
            who = place.running()
    if who is not None:
        # The same command once more, as when a terminal was lost, is one more screen.
        other = [name for name, value in config.given().items() if who.given.get(name) != value]
        if other:
            raise UsageError(
                f"a desk for {config.show} runs already, started without this --{other[0]}: "
                f"`longlace attach {config.show}` opens a screen on it"
            )
    return show_screen(place)


def show_screen(place: Place) -> int:
    """One screen on the desk at ``place``; the exit code."""
    need_terminal()
    from tui.app import LonglaceApp  # noqa: PLC0415 - a quarter of a second that nothing else needs
    from tui.gone import run_on_terminal  # noqa: PLC0415

    connection = DeskConnection(place)
    run_on_terminal(LonglaceApp(connection))
    if connection.farewell is not None:
        sys.stdout.write(f"{connection.farewell}\n")
    if place.running() is not None:
        rehearsal = "rehearsal" if place.rehearsal else "desk"
        sys.stdout.write(
            f"The {rehearsal} goes on: `longlace attach {place.show_path}` opens a screen on it.\n"
        )
    return 0


def need_terminal(instead: str = "--plain (or `longlace attach --lines`)") -> None:
    """``UsageError`` where there is none; ``instead``: what serves without one."""
    if not has_terminal():
        raise UsageError(f"a screen needs a terminal; without one use {instead}")
