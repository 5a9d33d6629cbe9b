"""``longlace report``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from interlock.errors import UsageError
from interlock.text import shown


def command(
    journal: Annotated[Path, typer.Argument(metavar="JOURNAL", help="the record's file")],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="FILE", help="write there: .html, .md or .json; what people added to it is kept"
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="one JSON document")] = False,
) -> None:
    """The incident report: what happened, to which film, how sure that is, and what is not known.

    Without --out it is printed as Markdown.
    """
    from interlock.incident.html import html  # noqa: PLC0415 - `--help` needs none of it
    from interlock.incident.markdown import markdown  # noqa: PLC0415
    from interlock.incident.people import kept, sort_of, write  # noqa: PLC0415
    from interlock.incident.recorded import read_record  # noqa: PLC0415
    from interlock.incident.report import make_report  # noqa: PLC0415
    from interlock.journal import Record  # noqa: PLC0415

    sort = "json" if as_json else "md" if out is None else sort_of(out)
    if as_json and out is not None and sort_of(out) != "json":
        raise UsageError(f"--json --out {out}: a JSON report goes into a file that ends in .json")
    with Record.open(journal) as record:
        report, drawn = make_report(read_record(record))
        people = {} if out is None else kept(out, report.id)
        if sort == "html":
            text = html(report, drawn, people)
        else:
            text = report.as_json(people) + "\n" if sort == "json" else markdown(report, people)
    if out is None:
        sys.stdout.write(text)
        return
    write(out, text)
    sys.stdout.write(f"{shown(out)}: {len(report.incidents)} incidents; chain head {report.head}\n")
