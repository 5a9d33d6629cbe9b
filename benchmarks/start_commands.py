"""How long a command takes to answer: ``--help`` and ``check`` of sixteen houses, beside a Python that does nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from importlib.resources import as_file, files

from benchmarks._row import Row, Seen, interleaved, run, wall_s

ROUNDS = 9
LIMITS_S = {"--help": 0.1, "check": 0.4}
IMPORTS = {
    "--help": "typer, and the names of all commands",
    "check": "typer, and pydantic with the models of the show file",
}
PROGRAM = ("-m", "interlock.cli")


def started(*command: str) -> Callable[[], float]:
    """Seconds of life from the start of a process to its end."""
    # As after an installation: modules are compiled once, not at every start.
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}

    def once() -> float:
        return wall_s(
            lambda: subprocess.run([sys.executable, *command], check=True, stdout=subprocess.DEVNULL, env=env)
        )

    once()
    return once


def row(name: str, ours: Seen, bare: Seen) -> Row:
    limit = LIMITS_S[name]
    return Row(
        name=f"start, longlace {name}", unit="s", ours=ours, peer="python -c pass", theirs=bare,
        target=f"at most {limit:g}", reached=ours.median <= limit,
        held_back=f"a bare Python takes {bare.median:.3f} s of it; the rest is imports: {IMPORTS[name]}.",
    )  # fmt: skip


def measure() -> Iterator[Row]:
    with as_file(files("configs") / "sixteen-house.toml") as show:
        commands: dict[str, Sequence[str]] = {
            "bare": ("-c", "pass"),
            "--help": (*PROGRAM, "--help"),
            "check": (*PROGRAM, "check", str(show)),
        }
        found = interleaved({name: started(*command) for name, command in commands.items()}, ROUNDS)
    for name in LIMITS_S:
        yield row(name, found[name], found["bare"])


if __name__ == "__main__":
    run(measure)
