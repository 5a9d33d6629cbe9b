"""The command line: a table of commands, each imported when it is called.

Adding a command is adding a file ``interlock/commands/<name>.py`` with a typer function ``command``
(its docstring is the help) and one row to :data:`COMMANDS`.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable
from difflib import get_close_matches
from functools import wraps
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from interlock.errors import LonglaceError
from interlock.text import shown

COMMANDS: dict[str, str] = {
    "check": "read a show file; print the plan, or every mistake in it",
    "odds": "how likely the start and the run hold, and which link is weakest",
    "route": "the best order of houses for the measured distances",
    "sheets": "write the threading sheet, the start card and the cue sheets",
    "rehearse": "the whole show on simulated machines",
    "watch": "the live show: start the desk, open the screen",
    "attach": "one more screen on a running desk",
    "web": "the board in a browser, view only",
    "review": "walk through a recorded show on the same screens",
    "report": "the incident report: what happened, to which film, what is not known",
    "trims": "start-timer corrections learned from recorded starts",
    "export": "readings, events and per-second state as CSV, Parquet or JSON lines",
    "verify": "is the record whole and unaltered?",
    "replay": "a record through today's desk: the same events, or which differ",
    "records": "list the records kept",
    "adapters": "list ports; say what each adapter found reports",
    "station": "serve a far booth's adapters to the desk over a broker",
}
"""Name → what the list of commands says of it, in the order in which they are listed."""

HELP = (
    "Plan, rehearse, watch and record one print run through several projectors at once. "
    "It watches and advises: it is no safety device."
)


class _Lazy(TyperGroup):
    """A group that knows its commands by name, and imports one only to run it or to show its own help."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            return None
        return load(cmd_name)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        if args[0] not in COMMANDS:
            near = get_close_matches(args[0], COMMANDS, 1)
            hint = f"did you mean {near[0]!r}?" if near else "`longlace --help` lists them all."
            ctx.fail(f"No such command {args[0]!r}; {hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def load(name: str) -> Any:
    """The command itself."""
    module = import_module(f"interlock.commands.{name.replace('-', '_')}")
    one = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    one.command(name)(_exits(module.command))
    return typer.main.get_command(one)


def _exits(command: Callable[..., int | None]) -> Callable[..., None]:
    """The command, leaving with the code that it returns (none: 0)."""

    @wraps(command)
    def run_it(*args: object, **kwargs: object) -> None:
        try:
            code = command(*args, **kwargs)
            sys.stdout.flush()
        except BrokenPipeError:
            # Whoever read us has gone, as with `longlace records | head -1`: that is no error of ours. What is
            # still buffered must go nowhere, or Python complains when it ends.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            code = 0
        except OSError as error:
            if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EFBIG):
                raise
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            where = error.filename or "the output"
            sys.stderr.write(f"{where} cannot be written: {error.strerror}\n")
            code = 2
        raise typer.Exit(code or 0)

    return run_it


app = typer.Typer(
    cls=_Lazy,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    help=HELP,
)


def _version(wanted: bool) -> None:
    if wanted:
        from interlock.service.version import version  # noqa: PLC0415 - only for whoever asks

        sys.stdout.write(f"longlace {version()}\n")
        raise typer.Exit


@app.callback()
def _longlace(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="which version this is")
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run one command and leave with its exit code. Whatever goes wrong is one sentence on standard error."""
    sys.exit(run())


def run(args: list[str] | None = None) -> int:
    """The exit code of a command line."""
    try:
        app(args=args, prog_name="longlace")
    except LonglaceError as error:
        # Line by line and never wrapped: a wrapped line could not be clicked on in an editor.
        sys.stderr.writelines(f"{shown(line)}\n" for line in str(error).split("\n"))
        return error.exit_code
    except SystemExit as done:
        return done.code if isinstance(done.code, int) else 0
    return 0


if __name__ == "__main__":
    main()
