"""``longlace verify``."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Annotated

import typer

from interlock.errors import UsageError
from interlock.journal import Record
from interlock.text import shown

HEAD = re.compile(r"\s*[0-9a-fA-F]{64}\s*")


def command(
    journal: Annotated[Path, typer.Argument(metavar="JOURNAL", help="the record's file")],
    head: Annotated[
        str | None, typer.Option("--head", metavar="HEX", help="what its last batch's hash is to be")
    ] = None,
) -> int:
    """Is the record whole and unaltered? Exit code 1 if it is not, 2 if the file is no record.

    Without the head that was printed at the end of the show, a record that somebody wrote anew from its first batch on
    looks like any other.
    """
    if head is not None and HEAD.fullmatch(head) is None:
        raise UsageError(f"--head: found {head!r}, expected the 64 hexadecimal digits as they were printed")
    with Record.open(journal) as record:
        verdict = record.verify(head)
    sys.stdout.write(f"{shown(journal)}: {verdict.sentence}\n")
    if head is None and verdict.ok:
        sys.stdout.write(
            "No head was given: whether it is the record that was written then, and not one written anew throughout, is not "
            "known. --head HEX, as printed at the end of the show and on its report, tells.\n"
        )
    return 0 if verdict.ok and verdict.ended else 1
