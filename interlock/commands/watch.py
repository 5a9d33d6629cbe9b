"""``longlace watch``."""

from __future__ import annotations

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
    from interlock.service.compose import Config  # noqa: PLC0415 - as late as can be: `--help` needs none of it

    config = Config(str(show), str(journal.absolute()) if journal is not None else None)
    if plain:
        from interlock.service.in_process import watch_plain  # noqa: PLC0415

        return watch_plain(config)
    from interlock.service.on_screen import start_and_show  # noqa: PLC0415

    return start_and_show(config)
