"""How the cost grows with the length of the show and the size of its record, sixteen houses."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from benchmarks._booth import write_show
from benchmarks._rehearsed import rehearse_apart
from benchmarks._row import Growth, cpu_s, interleaved, linearity, run
from benchmarks.four_hours import report_page, verified
from interlock.journal import Record

HOUSES = 16
FEATURES_S = (100, 900, 2_600, 4_400)
"""With the film between the houses some 20 min to an hour and a half."""
ROUNDS = 3


def opened(path: Path) -> None:
    """To the first input of it."""
    with Record.open(path) as record:
        next(record.inputs())


def verified_file(path: Path) -> None:
    with Record.open(path) as record:
        verified(record)


def reported(path: Path) -> None:
    with Record.open(path) as record:
        report_page(record)


def measure() -> Iterator[Growth]:
    costs: list[tuple[float, float]] = []
    memory: list[tuple[float, float]] = []
    sizes: list[float] = []
    reads: dict[str, list[tuple[float, float]]] = {"verify": [], "report": [], "open": []}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for feature_s in FEATURES_S:
            path = folder / f"{feature_s}.record"
            seen = rehearse_apart(write_show(folder, HOUSES, feature_s), path, folder)
            minutes = seen.memory[-1][0] / 60.0
            costs.append((minutes, seen.cpu_s))
            memory.append((minutes, seen.most_mb))
            sizes.append(path.stat().st_size / 1e6)
            ways: dict[str, Callable[[], float]] = {
                what: lambda d=do, p=path: cpu_s(lambda: d(p))  # type: ignore[misc]
                for what, do in (("verify", verified_file), ("report", reported), ("open", opened))
            }
            for what, took in interleaved(ways, ROUNDS).items():
                reads[what].append((sizes[-1], took.median))
    yield Growth(
        name="Length of the show", x="minutes of show", y="s of processor, or MB",
        lines={"rehearsal at full speed, s": costs, "memory at most, MB": memory},
        sentence=f"The rehearsal: {linearity(costs)}. Memory: {linearity(memory)}.",
    )  # fmt: skip
    yield Growth(
        name="Size of the record", x="MB", y="s of processor", lines=reads,
        sentence=f"Verifying: {linearity(reads['verify'])}. Reporting: {linearity(reads['report'])}. Opening: "
        f"{linearity(reads['open'])}: of the batches it reads the first page alone.",
    )  # fmt: skip


if __name__ == "__main__":
    run(measure)
