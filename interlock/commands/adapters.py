"""``longlace adapters``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


def command(
    port: Annotated[
        list[str] | None,
        typer.Option(
            "--port",
            metavar="PORT",
            help="only this port (again for more): /dev/ttyACM0, COM3, a pty, socket://HOST:PORT",
        ),
    ] = None,
    baud: Annotated[int, typer.Option("--baud", min=50, max=4_000_000, help="bits a second")] = 115200,
    wait: Annotated[
        float, typer.Option("--wait", metavar="S", min=0.1, max=60.0, help="how long an answer may take")
    ] = 2.5,
    live: Annotated[
        bool | None,
        typer.Option("--live/--once", help="show inputs as they move; on a terminal that is the default"),
    ] = None,
    for_s: Annotated[
        float | None, typer.Option("--for", metavar="S", min=0.0, help="end the live view after so long")
    ] = None,
    write: Annotated[
        str | None,
        typer.Option(
            "--write", metavar="FILE", help="append the [[adapter]] block to this show file; - prints it"
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="one JSON document instead of words")] = False,
) -> int:
    """List ports, ask each who it is, and show what its inputs do.

    Every serial port of the computer is opened and sent one line; name ports with --port if something else
    is connected that must not be spoken to. A port that a desk uses is not disturbed: it says so.
    """
    import asyncio  # noqa: PLC0415 - as late as can be: `--help` needs none of it

    from interlock.service.adapters import Wanted, adapters  # noqa: PLC0415

    if write not in (None, "-") and not Path(str(write)).is_file():
        from interlock.errors import UsageError  # noqa: PLC0415

        raise UsageError(f"{write}: there is no such file; `--write -` prints the block instead")
    terminal = sys.stdout.isatty() and sys.stdin.isatty()
    wanted = Wanted(
        ports=tuple(port or ()),
        baud=baud,
        wait_s=wait,
        live=(terminal and not json and write != "-") if live is None else live,
        for_s=for_s,
        write=write,
        json=json,
        screen=terminal and not json,
    )
    try:
        return asyncio.run(adapters(wanted))
    except KeyboardInterrupt:
        return 130
