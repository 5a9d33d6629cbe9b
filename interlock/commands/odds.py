"""``longlace odds``: how likely the start and the run stay within every link's limits, and which link is
weakest."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


def command(
    show: Annotated[Path, typer.Argument(metavar="SHOW", help="the show file")],
    shows: Annotated[
        int | None,
        typer.Option("--shows", min=1, help="simulate that many shows instead of reckoning exactly"),
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", min=0, help="of the simulation; the same seed, the same odds [0]")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="one JSON document")] = False,
) -> None:
    """How likely the start and the run hold, which link is weakest, what would help most."""
    # Read when called: numpy would double the time that `--help` takes.
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    from interlock.plan.odds_report import report, shows_needed  # noqa: PLC0415
    from interlock.plan.odds_words import words  # noqa: PLC0415
    from interlock.showfile.load import load_show  # noqa: PLC0415

    plan = load_show(show)
    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("simulating shows", total=shows_needed(plan, shows))
        found = report(plan, shows, seed, progress=lambda done: bar.advance(task, done))
    typer.echo(json.dumps(found.as_json(), ensure_ascii=False) if as_json else words(plan, found))
