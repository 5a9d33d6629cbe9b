"""``longlace route``: the best order of houses for the booth's measured distances.

Exit codes: 0 an order was found; 1 no order joins all houses (it is said which ones are cut off); 2 nothing
to choose from. The JSON document is described in :mod:`interlock.plan.route_report`.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from interlock.plan.route_survey import Leg


def command(
    show: Annotated[Path, typer.Argument(metavar="SHOW", help="the show file")],
    distances: Annotated[
        Path | None,
        typer.Option(
            "--distances",
            metavar="CSV",
            help="measured distances: from,to,ft,rollers,crosses or a matrix; over those of the show file",
        ),
    ] = None,
    first: Annotated[str | None, typer.Option("--first", metavar="HOUSE", help="this house is first")] = None,
    last: Annotated[str | None, typer.Option("--last", metavar="HOUSE", help="this house is last")] = None,
    forbid: Annotated[
        list[str] | None,
        typer.Option("--forbid", metavar="4>3", help="this way must not be used; may be given again"),
    ] = None,
    by: Annotated[
        Literal["film", "rollers", "crossings"], typer.Option("--by", help="what is to be least")
    ] = "film",
    as_json: Annotated[bool, typer.Option("--json", help="one JSON document")] = False,
) -> None:
    """The best order of houses, and what other choices cost in film, rollers and hazards."""
    # Read when called: numpy would double the time that `--help` takes.
    from interlock.errors import UsageError  # noqa: PLC0415
    from interlock.plan.route import plan_route  # noqa: PLC0415
    from interlock.plan.route_csv import read_distances  # noqa: PLC0415
    from interlock.plan.route_words import words  # noqa: PLC0415
    from interlock.showfile.load import load_show  # noqa: PLC0415

    plan = load_show(show)
    measured: dict[tuple[str, str], Leg] = {} if distances is None else read_distances(distances, plan.film)
    if not measured and not plan.distances and len(plan.houses) > 2:
        raise UsageError(
            f"{show}: nothing to choose from: only the chain's own links are measured. Measure the ways between the "
            "other houses, and give them as [[distance]] in the show file or as --distances CSV"
        )
    found = plan_route(plan, measured, by=by, first=first, last=last, forbid=forbid or ())
    typer.echo(json.dumps(found.as_json(), ensure_ascii=False) if as_json else words(plan.title, found))
    if found.best is None:
        raise typer.Exit(1)
