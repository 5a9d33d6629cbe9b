"""``longlace station``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


def command(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="the station's file: TOML", show_default=False)
    ],
    check: Annotated[bool, typer.Option("--check", help="only read the file, and say what is in it")] = False,
    plain: Annotated[
        bool,
        typer.Option("--plain", help="no screen: a line as things happen, as where there is no terminal"),
    ] = False,
) -> int:
    """Serve this booth's adapters to the desk in another one, over an MQTT broker.

    The station goes on by itself when the network is away: it says that it is alone, shows its houses and their
    cue sheet as the desk gave it, keeps what its adapters say, and delivers it
    afterwards. It watches, and moves nothing. docs/several-booths.md has the rest.
    """
    import asyncio  # noqa: PLC0415 - as late as can be: `--help` needs none of it

    from interlock.station.file import read_station  # noqa: PLC0415
    from interlock.station.main import BY_KEYBOARD, run_station  # noqa: PLC0415

    station = read_station(file)
    if check:
        o = station.options
        names = ", ".join(a.name for a in station.adapters)
        typer.echo(f"station {o.name} of {o.site}: {names}; broker {o.broker}:{o.tcp_port}")
        return 0
    try:
        return asyncio.run(run_station(station, screen=sys.stdout.isatty() and not plain))
    except KeyboardInterrupt:
        return BY_KEYBOARD
