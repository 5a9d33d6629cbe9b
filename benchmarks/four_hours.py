"""Four hours in sixteen houses: the desk's memory on the way, the record's size, and the report of it.

The report's charts (drift of fifteen links over four hours, with its band and limits) are drawn from the same arrays by
matplotlib as SVG and by plotly as an HTML page that needs no network, as the report needs none. What the peers are imported
with is not counted, nor is what the report is.
"""

from __future__ import annotations

import io
import statistics
import tempfile
from collections.abc import Callable, Iterator
from importlib.resources import as_file, files
from pathlib import Path

import plotly.graph_objects as go
from matplotlib.figure import Figure
from plotly.subplots import make_subplots

from benchmarks._booth import write_show
from benchmarks._rehearsed import Rehearsed, rehearse_apart
from benchmarks._row import Row, Seen, beside, cpu_s, interleaved, run, under
from interlock.incident.charts import whole_charts
from interlock.incident.html import html
from interlock.incident.recorded import read_record
from interlock.incident.report import Drawn, make_report
from interlock.journal import Record

HOUSES, HOURS = 16, 4
FEATURE_S = 13_320
"""With the film between the houses and the tail it makes four hours."""
FIRST_S = 600.0
MOST_SLOPE_MB, MOST_MB, MOST_RECORD_MB = 1.0, 100.0, 150.0
ROUNDS = 3


def memory_rows(seen: Rehearsed) -> Iterator[Row]:
    later = [(t_s / 3600.0, mb) for t_s, mb in seen.memory if t_s >= FIRST_S]
    slope = statistics.linear_regression([h for h, _ in later], [mb for _, mb in later]).slope
    name = f"memory of the desk over {HOURS} simulated hours, {HOUSES} houses, record on"
    yield under(
        name, "MB an hour, after the first ten minutes", one(slope), MOST_SLOPE_MB,
        held_back=f"from {later[0][1]:.0f} MB after ten minutes to {later[-1][1]:.0f} MB at the end.",
    )  # fmt: skip
    yield under(name, "MB at most", one(seen.most_mb), MOST_MB)


def one(x: float) -> Seen:
    """A figure that was taken once."""
    return Seen(x, x, x)


def report_page(record: Record) -> str:
    """As ``longlace report --out FILE.html``, without the writing."""
    report, drawn = make_report(read_record(record))
    return html(report, drawn, {})


def in_matplotlib(drawn: Drawn) -> str:
    """The charts as one SVG."""
    course, links = drawn.recorded.course, drawn.recorded.show.links
    made = Figure(figsize=(7.2, 1.2 * len(links)))
    for i, link in enumerate(links):
        axes = made.add_subplot(len(links), 1, i + 1)
        drift, sigma = course.drift[i], course.drift_sigma[i]
        axes.fill_between(course.show_s, drift - 2 * sigma, drift + 2 * sigma, color="0.8")
        axes.plot(course.show_s, drift, "k", linewidth=0.7)
        for limit in (-link.tight_fr, link.spill_fr):
            axes.axhline(limit, linestyle="--", linewidth=0.5)
        axes.set_title(link.id)
    out = io.StringIO()
    made.savefig(out, format="svg")
    return out.getvalue()


def in_plotly(drawn: Drawn) -> str:
    """The charts as one HTML page."""
    course, links = drawn.recorded.course, drawn.recorded.show.links
    made = make_subplots(rows=len(links), cols=1)
    for i, link in enumerate(links):
        drift, sigma = course.drift[i], course.drift_sigma[i]
        for y, fill in ((drift - 2 * sigma, None), (drift + 2 * sigma, "tonexty"), (drift, None)):
            made.add_trace(go.Scatter(x=course.show_s, y=y, fill=fill, name=link.id), row=i + 1, col=1)
        for limit in (-link.tight_fr, link.spill_fr):
            made.add_hline(y=limit, row=i + 1, col=1)
    return str(made.to_html(include_plotlyjs=True))


def report_rows(record: Record) -> Iterator[Row]:
    recorded = read_record(record)
    _, drawn = make_report(recorded)
    sizes: dict[str, float] = {}

    def timed(name: str, draw: Callable[[], str]) -> Callable[[], float]:
        def once() -> float:
            return cpu_s(lambda: sizes.update({name: len(draw().encode()) / 1e3}))

        return once

    found = interleaved(
        {
            "charts": timed("charts", lambda: "".join(whole_charts(drawn))),
            "whole": timed("whole", lambda: report_page(record)),
            "matplotlib SVG": timed("matplotlib SVG", lambda: in_matplotlib(drawn)),
            "plotly HTML": timed("plotly HTML", lambda: in_plotly(drawn)),
        },
        ROUNDS,
    )
    for peer in ("matplotlib SVG", "plotly HTML"):
        for ours, name, held in (
            ("charts", f"report's charts of {HOURS} hours", CHARTS),
            ("whole", f"report of {HOURS} hours, whole, beside its charts alone", WHOLE),
        ):
            for unit, a, b in (
                ("s", found[ours], found[peer]),
                ("kB", one(sizes[ours]), one(sizes[peer])),
            ):
                yield beside(name, unit, a, peer, b, at_least=10.0, target="a tenth", held_back=held)


CHARTS = "plotly draws nothing: it writes the arrays down, and a browser has to draw them; the report's charts are drawn."
WHOLE = (
    "the peer is given the arrays and only draws; the report unpacks the seconds of the record, judges incidents, tells them "
    "and draws what is around each. Beside the same charts alone: the row of the charts."
)


def measure() -> Iterator[Row]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        show, path = write_show(folder, HOUSES, FEATURE_S), folder / "four-hours.record"
        with as_file(files("configs") / "scenarios" / "lamp-out.toml") as scenario:
            seen = rehearse_apart(show, path, folder, scenario)
        if seen.memory[-1][0] < HOURS * 3600.0:
            raise AssertionError(f"the show ended after {seen.memory[-1][0]:.0f} s")
        yield from memory_rows(seen)
        yield under(
            f"record of {HOURS} hours, {HOUSES} houses", "MB", one(path.stat().st_size / 1e6), MOST_RECORD_MB
        )
        with Record.open(path) as record:
            found = interleaved({"verify": lambda: cpu_s(lambda: verified(record))}, ROUNDS)
            yield Row(name=f"record of {HOURS} hours verified", unit="s", ours=found["verify"])
            yield from report_rows(record)


def verified(record: Record) -> None:
    verdict = record.verify()
    if not verdict.ok:
        raise AssertionError(verdict.sentence)


if __name__ == "__main__":
    run(measure)
