"""``longlace sheets``: the threading sheet, the start card, the times and the cue sheets, as files.

Standard output names the files, one a line; what must be put right before one threads goes to standard error.
Exit codes: 0 the sheets are written; 2 a bad show file, or a folder that cannot be written.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from interlock.text import shown


def command(
    show: Annotated[Path, typer.Argument(metavar="SHOW", help="the show file")],
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="the folder for the sheets; made if need be")
    ],
    paper: Annotated[
        Literal["any", "a4", "letter"],
        typer.Option("--paper", help="ask the printer for this paper; any: as it is set"),
    ] = "any",
) -> None:
    """Write threading sheet, start card, times and cue sheets (HTML, Markdown), drawings and a calendar."""
    # Read when called, so that `--help` stays quick.
    from interlock.clock import SystemClock  # noqa: PLC0415
    from interlock.plan.sheets.threading_sheet import sheet_notes  # noqa: PLC0415
    from interlock.plan.sheets.write import write_sheets  # noqa: PLC0415
    from interlock.plan.threading import plan_threading  # noqa: PLC0415
    from interlock.plan.times import clashes  # noqa: PLC0415
    from interlock.showfile.load import load_show  # noqa: PLC0415

    plan = load_show(show)
    for path in write_sheets(plan, out, SystemClock().wall_s(), paper):
        typer.echo(shown(path))
    threading = plan_threading(plan)
    remedies = [stretch.remedy for stretch in threading.stretches if not stretch.can_be_done]
    for note in [*remedies, *sheet_notes(plan, threading), *clashes(plan)]:
        typer.echo(f"! {note}", err=True)
