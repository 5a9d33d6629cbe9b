"""``longlace web``."""

from __future__ import annotations

import asyncio
import ipaddress
import os
import secrets
import sys
from pathlib import Path
from typing import Annotated

import typer

from interlock.commands.attach import find
from interlock.errors import UsageError, needs_extra

TOKEN = "LONGLACE_WEB_TOKEN"  # noqa: S105 - the name of a variable, no secret
LEAST_TOKEN = 16
BY_KEYBOARD = 130


def command(
    show: Annotated[
        Path | None,
        typer.Argument(metavar="[SHOW]", help="the show file; needless where only one desk runs"),
    ] = None,
    host: Annotated[
        str,
        typer.Option(
            "--host", metavar="ADDRESS", help="where to listen; others than this machine need a token"
        ),
    ] = "127.0.0.1",
    port: Annotated[
        int, typer.Option("--port", metavar="N", help="0: any that is free", min=0, max=65535)
    ] = 8135,
    viewers: Annotated[
        int, typer.Option("--viewers", metavar="N", help="at most so many", min=1, max=200)
    ] = 8,
    token: Annotated[
        bool,
        typer.Option("--token", help=f"ask for a token on this machine too (from ${TOKEN}, else a new one)"),
    ] = False,
) -> int:
    """The board of a running desk in a browser, view only. It listens on this machine alone unless told otherwise."""
    try:
        from interlock.service.web import open_port, serve  # noqa: PLC0415 - `--help` needs none of it
    except ImportError as error:
        raise UsageError(needs_extra(f"the board in a browser ({error})", "web")) from error
    from interlock.service.connection import DeskConnection  # noqa: PLC0415

    word = _token(host, wanted=token)
    place = find(show)
    with open_port(host, port) as taken:
        number = taken.getsockname()[1]
        shown = f"[{host}]" if ":" in host else host
        address = f"http://{shown}:{number}/" + (f"?token={word}" if word else "")
        sys.stdout.write(
            f"{address}\nView only; at most {viewers} viewers. Ctrl+C ends it; the desk goes on.\n"
        )
        sys.stdout.flush()
        connection = DeskConnection(place)
        try:
            asyncio.run(serve(connection, taken, token=word, viewers=viewers))
        except KeyboardInterrupt:
            return BY_KEYBOARD
    if connection.farewell is not None:
        sys.stdout.write(f"{connection.farewell}\n")
    return 0


def _token(host: str, *, wanted: bool) -> str | None:
    """The token that is asked for; None where this machine alone can come in and nobody wants one."""
    given = os.environ.get(TOKEN)
    if given is not None and (len(given) < LEAST_TOKEN or not given.isascii() or not given.isalnum()):
        raise UsageError(f"${TOKEN}: expected at least {LEAST_TOKEN} letters and digits")
    if _is_local(host) and not wanted and given is None:
        return None
    return given or secrets.token_hex(16)


def _is_local(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
