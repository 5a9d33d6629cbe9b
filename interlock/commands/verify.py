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
    """Is the record whole and unaltered? Exit code 1 if it is not, 2 if the file is no record."""
    with Record.open(journal) as record:
        verdict = record.verify(head)
    sys.stdout.write(f"{journal}: {verdict.sentence}\n")
    return 0 if verdict.ok and verdict.ended else 1
