"""docs/benchmarks.md and its plots, from what was measured."""

from __future__ import annotations

import platform
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from os import cpu_count
from pathlib import Path

import matplotlib as mpl
from matplotlib.figure import Figure

from benchmarks._row import Growth, Row, growth_text, held_back, table

PEERS = (
    "aiopubsub", "aiosqlite", "anyio", "blinker", "bubus", "crccheck", "filterpy", "matplotlib", "numpy", "ortools",
    "plotly", "pyee", "pyserial", "python-tsp", "scipy", "simpy", "textual",
)  # fmt: skip

INTRO = """\
# How fast it is

Written by `make bench`; `.venv/bin/python -m benchmarks 'bus_*'` measures and prints a part (`'growth_*'` draws the plots
anew) and leaves this page alone. Each row is measured beside its peer in the same run, on the same work, turn about, several
rounds: the median, and in brackets the least and the most. *Times ahead* is how many times better Longlace's figure is than
the peer's, so above 1 it is ahead, be it microseconds, bytes or rows a second. Peers are general libraries that do a part of
the work, or the least that could do it; they are installed for this alone (`requirements-bench.txt`). What only reckons is
measured in processor seconds, what waits for a disk, a line or a screen in seconds of life. The figures are of one machine;
the ratios travel better. What every change is held to on any machine are counted calls, in
`tests/tooling/test_counted_work.py`.
"""


def machine() -> list[str]:
    """What it was seen on, without anything that names the machine."""
    try:
        text = Path("/proc/cpuinfo").read_text(encoding="utf-8")
    except OSError:
        text = ""
    model = re.search(r"^model name\s*:\s*(.+)$", text, re.MULTILINE)
    versions: list[str] = []
    for peer in PEERS:
        try:
            versions.append(f"{peer} {version(peer)}")
        except PackageNotFoundError:
            versions.append(f"{peer} not installed")
    cpu = model.group(1) if model else platform.machine()
    seen = f"Seen on {datetime.now(UTC):%Y-%m-%d}: {cpu}, {cpu_count()} cores, {platform.system()}, "
    return [f"{seen}Python {platform.python_version()}.", "Peers: " + ", ".join(versions) + "."]


def file_of(grown: Growth) -> str:
    """The name of its plot."""
    return re.sub(r"[^a-z0-9]+", "-", grown.name.lower()).strip("-") + ".svg"


def draw(grown: Growth, folder: Path) -> Path:
    """One small plot, both axes logarithmic: what is linear there is a line of slope one, drawn in grey."""
    folder.mkdir(exist_ok=True)
    # Text stays text, and the same figures give the same file.
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "longlace", "font.size": 9}):
        made = Figure(figsize=(5.2, 3.0), layout="constrained")
        axes = made.add_subplot()
        for name, points in grown.lines.items():
            xs, ys = [x for x, _ in points], [y for _, y in points]
            [drawn] = axes.loglog(xs, ys, "o-", markersize=3.5, linewidth=1.3, label=name)
            axes.loglog(xs, [ys[0] * x / xs[0] for x in xs], ":", color=drawn.get_color(), linewidth=0.8)
        axes.loglog([], [], ":", color="grey", linewidth=0.8, label="linear from the first")
        axes.set_xlabel(grown.x)
        axes.set_ylabel(grown.y)
        axes.set_xticks(sorted({x for p in grown.lines.values() for x, _ in p}), labels=None, minor=False)
        axes.xaxis.set_major_formatter("{x:.3g}")
        axes.yaxis.set_major_formatter("{x:g}")
        axes.xaxis.set_minor_formatter("")
        axes.grid(visible=True, linewidth=0.3)
        axes.legend(frameon=False, fontsize=8)
        path = folder / file_of(grown)
        made.savefig(path, metadata={"Date": None, "Creator": None})
    return path


def write_page(path: Path, rows: Sequence[Row], grown: Sequence[Growth], failed: Sequence[str] = ()) -> None:
    """The whole page anew; ``failed``: what did not run is said before anything else."""
    short = held_back(rows)
    parts = [INTRO, *machine()]
    if failed:
        parts.append(f"**Not in this table, because it failed to run:** {', '.join(failed)}.")
    parts += [table(rows), "## What is not reached, and what holds it back"]
    parts.append(
        "\n".join(f"- {text}" for text in short) if short else "Every target was reached in this run."
    )
    parts.append(
        "## How the cost grows\n\nBoth axes are logarithmic. Dotted: linear from the first point. A curve under its dotted "
        "line grows more slowly than what it is drawn over."
    )
    for each in grown:
        figures = growth_text(each).split("\n")[1:]
        parts.append(
            f"### {each.name}\n\n![{each.name}]({path.stem}/{file_of(each)})\n\n{each.sentence}\n\n"
            + "\n".join(f"- {line.strip()}" for line in figures)
        )
    path.write_text("\n\n".join(p.strip() for p in parts) + "\n", encoding="utf-8")
