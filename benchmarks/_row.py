"""What every benchmark gives: rows of one table, each measured beside its peer in the same run; and how it is run.

A module has ``measure()``, which yields :class:`Row` (or :class:`Growth`), and ends with ``run(measure)``. Then
``python -m benchmarks.NAME`` prints its part of the table, and ``python -m benchmarks`` all of it.
"""

from __future__ import annotations

import gc
import signal
import statistics
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TypeAlias

import msgspec


class Seen(msgspec.Struct, frozen=True):
    """Of several rounds, in the row's unit."""

    median: float
    least: float
    most: float

    def __str__(self) -> str:
        if self.least == self.most:
            return figure(self.median)
        return f"{figure(self.median)} ({figure(self.least)}–{figure(self.most)})"


class Row(msgspec.Struct, frozen=True, kw_only=True, tag="row"):
    """One thing measured, beside one peer on the same work; without a peer against the target alone."""

    name: str
    unit: str
    ours: Seen
    peer: str | None = None
    theirs: Seen | None = None
    more_is_better: bool = False
    """Of the unit: rows a second are, microseconds are not."""
    target: str = "–"
    reached: bool | None = None
    """None: this row has no target of its own and stands for comparison."""
    held_back: str = ""
    """What holds it back and what was tried; shown where the target is not reached."""

    @property
    def ratio(self) -> float | None:
        """How many times better ours is: above 1 it is ahead of the peer, whatever the unit."""
        if self.theirs is None:
            return None
        return times_ahead(self.ours, self.theirs, more_is_better=self.more_is_better)


class Growth(msgspec.Struct, frozen=True, kw_only=True, tag="growth"):
    """How a cost grows. ``lines``: of each curve, its points (x, y)."""

    name: str
    x: str
    y: str
    lines: dict[str, list[tuple[float, float]]]
    sentence: str
    """Where it stops being linear, and why."""


Result: TypeAlias = Row | Growth
Measure: TypeAlias = Callable[[], Iterable[Result]]
results_of = msgspec.json.Decoder(list[Result]).decode


def figure(x: float) -> str:
    """Three digits of it."""
    return f"{x:,.0f}" if abs(x) >= 1000 else f"{x:.3g}" if abs(x) < 100 else f"{x:.0f}"


def seen(values: Sequence[float]) -> Seen:
    """Median and spread."""
    return Seen(statistics.median(values), min(values), max(values))


def times_ahead(ours: Seen, theirs: Seen, *, more_is_better: bool = False) -> float:
    """As :attr:`Row.ratio`."""
    a, b = (ours.median, theirs.median) if more_is_better else (theirs.median, ours.median)
    return a / b if b else float("inf")


def beside(
    name: str,
    unit: str,
    ours: Seen,
    peer: str,
    theirs: Seen,
    *,
    at_least: float | None,
    more_is_better: bool = False,
    target: str = "",
    held_back: str = "",
) -> Row:
    """A row whose target is to be ``at_least`` so many times ahead of the peer; None: it stands for comparison."""
    ahead = times_ahead(ours, theirs, more_is_better=more_is_better)
    return Row(
        name=name,
        unit=unit,
        ours=ours,
        peer=peer,
        theirs=theirs,
        more_is_better=more_is_better,
        target=target
        or ("–" if at_least is None else "ahead" if at_least == 1.0 else f"{figure(at_least)} times"),
        reached=None if at_least is None else ahead >= at_least,
        held_back=held_back,
    )


def under(name: str, unit: str, ours: Seen, limit: float, *, held_back: str = "") -> Row:
    """A row without a peer, whose median is to be at most ``limit``."""
    return Row(
        name=name,
        unit=unit,
        ours=ours,
        target=f"at most {figure(limit)}",
        reached=ours.median <= limit,
        held_back=held_back,
    )


def interleaved(ways: Mapping[str, Callable[[], float]], rounds: int) -> dict[str, Seen]:
    """Every way once a round, forth and then back, so that a busy minute falls on all of them."""
    got: dict[str, list[float]] = {name: [] for name in ways}
    for n in range(rounds):
        for name in list(ways) if n % 2 == 0 else reversed(list(ways)):
            gc.collect()
            got[name].append(ways[name]())
    return {name: seen(values) for name, values in got.items()}


def cpu_s(work: Callable[[], object]) -> float:
    """Processor seconds of this process, all its threads: what else runs on the machine is not in it."""
    start = time.process_time()
    work()
    return time.process_time() - start


def wall_s(work: Callable[[], object]) -> float:
    """Seconds of life, for what waits: a disk, another process."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def table(rows: Iterable[Row]) -> str:
    """The one table, as Markdown that is readable in a terminal too."""
    head = ("measured", "Longlace", "peer", "its figure", "times ahead", "to reach", "reached")
    cells = [head]
    for row in rows:
        ratio = row.ratio
        cells.append(
            (
                f"{row.name}: {row.unit}",
                str(row.ours),
                row.peer or "–",
                "–" if row.theirs is None else str(row.theirs),
                "–" if ratio is None else figure(ratio),
                row.target,
                "–" if row.reached is None else "yes" if row.reached else "**no**",
            )
        )
    widths = [max(len(line[k]) for line in cells) for k in range(len(head))]
    lines = [
        "| " + " | ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)) + " |" for line in cells
    ]
    lines.insert(1, "| " + " | ".join("-" * w for w in widths) + " |")
    return "\n".join(lines)


def held_back(rows: Iterable[Row]) -> list[str]:
    """A sentence for each row that is not reached."""
    return [
        f"{row.name}, {row.unit}{'' if row.peer is None else f', beside {row.peer}'}: "
        f"{row.held_back or 'not reached in this run.'}"
        for row in rows
        if row.reached is False
    ]


def linearity(points: Sequence[tuple[float, float]], *, share: float = 0.25) -> str:
    """Where a curve leaves the straight line through its first point, in words; ``share``: by so much of it."""
    (x0, y0), (x1, y1) = points[0], points[-1]
    whole = f"{figure(x1 / x0)} times as much costs {figure(y1 / y0)} times"
    for x, y in points[1:]:
        apart = y / y0 * x0 / x
        if abs(apart - 1.0) > share:
            way = "more slowly" if apart < 1.0 else "faster"
            return f"it grows {way} than linearly from {figure(x)} on; {whole}"
    return f"linear within {share:.0%} all the way; {whole}"


def growth_text(grown: Growth) -> str:
    """The figures of a plot, a line a curve."""
    lines = [f"{grown.name}. {grown.y} over {grown.x}. {grown.sentence}"]
    lines += [
        f"  {name}: " + ", ".join(f"{figure(x)}: {figure(y)}" for x, y in points)
        for name, points in grown.lines.items()
    ]
    return "\n".join(lines)


def run(measure: Measure) -> None:
    """The end of every module: its part of the table on standard output, or as JSON into ``--json FILE``."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that what was started is put away
    results = list(measure())
    if sys.argv[1:2] == ["--json"]:
        Path(sys.argv[2]).write_bytes(msgspec.json.encode(results))
        return
    if rows := [r for r in results if isinstance(r, Row)]:
        print(table(rows))
        for text in held_back(rows):
            print(f"not reached: {text}")
    for grown in results:
        if isinstance(grown, Growth):
            print(growth_text(grown))
