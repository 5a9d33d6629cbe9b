"""``longlace watch``."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

FRESH_MIN = 15
"""What was cut off longer ago may be another evening's, or a trial's: it is gone on with only if that is said."""


def command(
    show: Annotated[Path, typer.Argument(metavar="SHOW", help="the show file")],
    journal: Annotated[
        Path | None,
        typer.Option(
            "--journal",
            metavar="FILE",
            help="keep the record in FILE; an unended record of this show is taken up again",
        ),
    ] = None,
    plain: Annotated[
        bool,
        typer.Option(
            "--plain",
            help="no screen: one JSON object a line, actions on standard input, Ctrl-C ends the watch",
        ),
    ] = False,
) -> int:
    """The live show: start the desk, open the screen.

    The desk runs in a session of its own and outlives the screen; a second watch of the same show opens
    one more screen on it. It watches and advises: it is no safety device.
    """
    from interlock.service.config import Config  # noqa: PLC0415 - as late as can be: `--help` needs none of it
    from interlock.service.on_screen import has_terminal, start_and_show  # noqa: PLC0415 - as above

    if journal is None:
        journal = _unended(show, ask=has_terminal() and not plain)
    config = Config(str(show), str(journal.absolute()) if journal is not None else None)
    if plain:
        from interlock.service.in_process import watch_plain  # noqa: PLC0415

        return watch_plain(config)
    return start_and_show(config)


def _unended(show: Path, *, ask: bool) -> Path | None:
    """A record of this show that was cut off, if it is to be gone on with: a desk that was killed in mid-show leaves one.

    Where nobody can be asked the watch begins anew, and says so.
    """
    from interlock.clock import SystemClock  # noqa: PLC0415 - as above
    from interlock.service.place import Place  # noqa: PLC0415
    from interlock.service.recording import left_unended  # noqa: PLC0415
    from interlock.service.shows import read_show  # noqa: PLC0415
    from interlock.text import as_argument  # noqa: PLC0415

    if Place(show).running() is not None:
        return None
    found = read_show(show)
    left = left_unended(found)
    if left is None:
        return None
    if ask:
        when = datetime.fromtimestamp(left.last_wall_s, ZoneInfo(found.timezone))
        minutes = max(0, round((SystemClock().wall_s() - left.last_wall_s) / 60))
        fresh = minutes < FRESH_MIN
        sys.stderr.write(
            f"The record was cut off at {when:%H:%M:%S}, {minutes} min ago: its desk or the power died.\n"
            f"  {'Enter  ' if fresh else 'g Enter'}  go on with it: show time and drifts as they were\n"
            "  n Enter  begin anew, as threaded\n"
        )
        return None if _anew(fresh) else left.path
    again = f"longlace watch {as_argument(show)} --journal {as_argument(left.path)}"
    sys.stderr.write(
        f"A record of this show was cut off: `{again}` goes on with it. This watch begins anew.\n"
    )
    return None


def _anew(fresh: bool) -> bool:
    """Whether it is to begin anew. Asked until it is said: a slip must not cost the record, nor take up an old one."""
    while True:
        sys.stderr.write("> ")
        sys.stderr.flush()
        said = sys.stdin.readline()
        if not said:
            raise typer.Exit(130)
        word = said.strip().casefold()
        if word in ("g", "y", "yes") or (fresh and not word):
            return False
        if word in ("n", "no"):
            return True
