"""``longlace trims``."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from interlock.errors import UsageError
from interlock.text import shown


def command(
    journals: Annotated[
        list[Path], typer.Argument(metavar="JOURNAL…", help="records of shows in these houses")
    ],
    within: Annotated[
        float, typer.Option("--within", metavar="S", help="how well each delay is to be known, in seconds")
    ] = 0.1,
    relative: Annotated[
        bool,
        typer.Option(
            "--relative", help="take each show's mean out: this computer's clock has then no part in it"
        ),
    ] = False,
    write: Annotated[
        Path | None,
        typer.Option(
            "--write", metavar="SHOW", help="write the measured delays and scatters into this show file"
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="one JSON document")] = False,
) -> None:
    """Start-timer corrections learned from recorded starts, with intervals, and what the odds become."""
    import msgspec  # noqa: PLC0415 - `--help` needs none of it

    from interlock.incident.starts import read_start  # noqa: PLC0415
    from interlock.incident.trims import trims  # noqa: PLC0415
    from interlock.incident.trims_words import words  # noqa: PLC0415
    from interlock.incident.trims_write import write_trims  # noqa: PLC0415
    from interlock.journal import Record  # noqa: PLC0415

    if not 0.001 <= within <= 10.0:
        raise UsageError(f"--within: found {within:g}, expected seconds from 0.001 to 10")
    if relative and write is not None:
        raise UsageError(
            "--write with --relative: the scatters are only approximate there; leave one of them out"
        )
    starts = []
    for path in journals:
        with Record.open(path) as record:
            start = read_start(record)
        if start is None:
            sys.stderr.write(
                f"{shown(path)}: holds no start (no motor turned after the desk was armed); left out\n"
            )
        else:
            starts.append(start)
    found = trims(starts, within_s=within, relative=relative)
    said = write_trims(write, found.houses) if write is not None else []
    if as_json:
        sys.stdout.write(
            json.dumps({**msgspec.to_builtins(found), "written": said}, ensure_ascii=False) + "\n"
        )
        return
    sys.stdout.write(words(found) + "\n")
    sys.stdout.writelines(f"Written: {line}\n" for line in said)
