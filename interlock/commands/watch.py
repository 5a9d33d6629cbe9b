"""``longlace watch``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


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

    config = Config(str(show), str(journal.absolute()) if journal is not None else None)
    if journal is None:
        _tell_of_unended(config.show)
    if plain:
        from interlock.service.in_process import watch_plain  # noqa: PLC0415

        return watch_plain(config)
    from interlock.service.on_screen import start_and_show  # noqa: PLC0415

    return start_and_show(config)


def _tell_of_unended(show: str) -> None:
    """A desk that was killed in mid-show leaves a record that can be gone on with, and somebody should know."""
    from interlock.service.place import Place  # noqa: PLC0415 - as above
    from interlock.service.recording import left_unended  # noqa: PLC0415
    from interlock.service.shows import read_show  # noqa: PLC0415

    if Place(show).running() is not None:
        return
    left = left_unended(read_show(show))
    if left is not None:
        sys.stderr.write(
            f"A record of this show was cut off: `longlace watch {show} --journal {left}` goes on with it. "
            "This watch begins anew.\n"
        )
