"""``longlace export``."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from interlock.text import shown


class Format(StrEnum):
    """What is written."""

    csv = "csv"
    parquet = "parquet"
    jsonl = "jsonl"


def command(
    journal: Annotated[Path, typer.Argument(metavar="JOURNAL", help="the record's file")],
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR|FILE", help="a folder; for jsonl a file too (events only)")
    ],
    sort: Annotated[
        Format,
        typer.Option(
            "--format", help="csv, parquet (needs the extra `export`), jsonl (OpenTelemetry's shape)"
        ),
    ] = Format.csv,
) -> None:
    """Readings, events and per-second state for other programs; every column with its unit is in docs/export.md."""
    from interlock.incident.export import export  # noqa: PLC0415 - `--help` needs none of it
    from interlock.journal import Record  # noqa: PLC0415

    with Record.open(journal) as record:
        for path, rows in export(record, out, sort.value):
            sys.stdout.write(f"{shown(path)}: {rows} rows\n")
