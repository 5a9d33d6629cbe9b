"""``longlace attach``."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path
from typing import Annotated

import typer

from interlock.errors import NoDesk, UsageError
from interlock.service.place import Place, desks
from interlock.text import as_argument, shown


def command(
    show: Annotated[
        Path | None,
        typer.Argument(metavar="[SHOW]", help="the show file; needless where only one desk runs"),
    ] = None,
    lines: Annotated[bool, typer.Option("--lines", help="a sentence an event instead of a screen")] = False,
) -> int:
    """One more screen on a running desk, or on a rehearsal."""
    place = find(show)
    if lines:
        from interlock.service.follow import follow_sentences  # noqa: PLC0415 - `--help` needs none of it

        def say(words: str) -> None:
            sys.stdout.write(words + "\n")
            sys.stdout.flush()

        return asyncio.run(follow_sentences(place, say))
    from interlock.service.on_screen import show_screen  # noqa: PLC0415

    return show_screen(place)


def find(show: Path | None) -> Place:
    """The desk that is meant. Raises ``NoDesk`` if it does not run, ``UsageError`` if it is not clear which."""
    if show is not None:
        for rehearsal in (False, True):
            place = Place(show, rehearsal=rehearsal)
            if place.running() is not None:
                return place
        raise NoDesk(f"no desk runs for {shown(show)}; `longlace watch {as_argument(show)}` starts one")
    running = desks()
    if not running:
        raise NoDesk("no desk runs; `longlace watch SHOW` starts one")
    if len(running) > 1:
        names = "\n".join(f"  {who.show}{' (rehearsal)' if who.rehearsal else ''}" for who in running)
        raise UsageError(f"several desks run; say which:\n{names}")
    return Place(running[0].show, rehearsal=running[0].rehearsal)
