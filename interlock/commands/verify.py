"""``longlace verify``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from interlock.journal import Record


def command(
    journal: Annotated[Path, typer.Argument(metavar="JOURNAL", help="the record's file")],
    head: Annotated[
        str | None, typer.Option("--head", metavar="HEX", help="what its last batch's hash is to be")
    ] = None,
) -> int:
    """Is the record whole and unaltered? 1 if it is not."""
    found = Record.open(journal).verify(head)
    sys.stdout.write(f"{found}\n")
    return 0
