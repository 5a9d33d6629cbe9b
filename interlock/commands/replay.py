"""``longlace replay``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


def command(
    journal: Annotated[Path, typer.Argument(metavar="JOURNAL", help="the record's file")],
    most: Annotated[
        int, typer.Option("--most", metavar="N", help="differences that are written out", min=0)
    ] = 40,
    as_json: Annotated[bool, typer.Option("--json", help="one JSON document, with every difference")] = False,
) -> int:
    """A record through today's desk: does it say the same as then, to the last digit?

    Exit code 1 if it says anything else; every difference is told. So last year's incident tests this year's alarms.
    """
    from interlock.incident.replay import as_json as in_json  # noqa: PLC0415 - `--help` needs none of it
    from interlock.incident.replay import differences_in_words, replay  # noqa: PLC0415
    from interlock.journal import Record  # noqa: PLC0415
    from interlock.service.version import version  # noqa: PLC0415

    with Record.open(journal) as record:
        found = replay(record, version())
    if as_json:
        sys.stdout.write(in_json(found) + "\n")
    else:
        sys.stdout.writelines(f"{line}\n" for line in differences_in_words(found, most))
    return 0 if found.same else 1
