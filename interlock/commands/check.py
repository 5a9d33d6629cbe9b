"""``longlace check``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import msgspec
import typer

from interlock.plan.check import check_json, check_text
from interlock.service.shows import read_show


def command(
    show: Annotated[Path, typer.Argument(metavar="SHOW", help="the show file")],
    json: Annotated[bool, typer.Option("--json", help="one JSON document instead of words")] = False,
) -> None:
    """Read a show file; print the plan, or every mistake in it."""
    plan = read_show(show)
    text = msgspec.json.encode(check_json(plan)).decode() if json else check_text(plan)
    sys.stdout.write(text if text.endswith("\n") else text + "\n")
