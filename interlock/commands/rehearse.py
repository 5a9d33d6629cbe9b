"""``longlace rehearse``."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated

import typer

from interlock.errors import UsageError

DEMO_SEED = 7
DEMO_SPEED = 10.0


def command(
    show: Annotated[
        Path | None, typer.Argument(metavar="[SHOW]", help="the show file; without it the built-in demo")
    ] = None,
    scenario: Annotated[
        Path | None, typer.Option("--scenario", metavar="FILE", help="the faults that happen")
    ] = None,
    speed: Annotated[
        str | None,
        typer.Option(
            "--speed", metavar="X", help="seconds of show for one of life, or max: as fast as it goes"
        ),
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="S", help="the same seed gives the same rehearsal", min=0)
    ] = None,
    journal: Annotated[
        Path | None,
        typer.Option("--journal", metavar="FILE", help="keep a record in FILE; else none is kept"),
    ] = None,
    plain: Annotated[
        bool, typer.Option("--plain", help="no screen: one JSON object a line, actions on standard input")
    ] = False,
) -> int:
    """The whole show on simulated machines, with the faults that really happen.

    Without a terminal, or with --speed max, it runs as fast as it goes and then says what happened. With --plain
    it runs at the speed of life unless told otherwise (the demo at ten times that).
    """
    from interlock.service import in_process, on_screen  # noqa: PLC0415 - `--help` needs none of it
    from interlock.service.config import Config  # noqa: PLC0415

    pace = _pace(speed)
    with ExitStack() as stack:
        demo = show is None
        if show is None:
            show = stack.enter_context(as_file(files("configs") / "demo.toml"))
            if scenario is None:
                scenario = stack.enter_context(as_file(files("configs") / "scenarios" / "demo.toml"))
            seed = DEMO_SEED if seed is None else seed
        lively = DEMO_SPEED if demo else 1.0
        config = Config(
            show=str(show),
            journal=str(journal.absolute()) if journal is not None else None,
            rehearsal=True,
            scenario=str(scenario) if scenario is not None else None,
            speed=pace or lively,
            seed=seed,
        )
        if plain:
            return in_process.rehearse_fast(config) if pace == 0.0 else in_process.rehearse_plain(config)
        if pace == 0.0 or not on_screen.has_terminal():
            return in_process.rehearse_summed_up(config, lambda text: sys.stdout.write(text + "\n"))
        return on_screen.start_and_show(config)


def _pace(speed: str | None) -> float | None:
    """The speed that was asked for; 0 for as fast as it goes, None for none."""
    if speed is None:
        return None
    if speed == "max":
        return 0.0
    try:
        x = float(speed)
    except ValueError:
        x = -1.0
    if not 0.0 < x <= 1000.0:
        raise UsageError(f"--speed: found {speed!r}, expected a number above 0 and up to 1000, or max")
    return x
