"""Strip charts as SVG: drift over time with its limits and its uncertainty, the least and the greatest of each pixel column.

So a chart of four hours is as small as one of four minutes, and shows every excursion. No script; prints in grey.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from html import escape

import msgspec
import numpy as np

from interlock.film import format_time
from interlock.incident.course import Floats

WIDTH, HEIGHT = 720, 120
LEFT, RIGHT, TOP, BOTTOM = 66, 12, 8, 20
BAND_SIGMAS = 2.0
"""The band is ± 2 sigma: about 95 %."""
LETTER_PX = 9
"""Marks nearer than this to the one before stand without their number."""
HOLE_S = 2.5
"""Samples further apart than this have something unknown between them."""


class Mark(msgspec.Struct, frozen=True):
    """Something that happened at ``x`` (same seconds as the chart's): a thin line and its letter."""

    x: float
    letter: str


class Strip(msgspec.Struct, frozen=True):
    """One chart: ``x`` seconds, ``y`` frames (NaN is unknown), ``sigma`` of them; ``extra`` is drawn over it as a finer line."""

    title: str
    x: Floats
    y: Floats
    sigma: Floats
    tight_fr: float
    spill_fr: float
    marks: tuple[Mark, ...] = ()
    extra: tuple[Floats, Floats] | None = None
    hole_s: float = HOLE_S


class _Axes:
    def __init__(self, c: Strip) -> None:
        self.x0, self.x1 = float(c.x[0]), max(float(c.x[-1]), float(c.x[0]) + 1.0)
        seen = [c.y, c.extra[1]] if c.extra is not None else [c.y]
        low, high = -c.tight_fr, c.spill_fr
        for y in seen:
            known = y[~np.isnan(y)]
            if len(known):
                low, high = min(low, float(known.min())), max(high, float(known.max()))
        room = 0.08 * (high - low)
        self.low, self.high = low - room, high + room

    def px(self, x: float) -> float:
        return _x_px(x, self.x0, self.x1)

    def py(self, y: float) -> float:
        inside = min(max(y, self.low), self.high)
        return TOP + (self.high - inside) / (self.high - self.low) * (HEIGHT - TOP - BOTTOM)


def columns(x: Floats, low: Floats, high: Floats, count: int) -> tuple[Floats, Floats, Floats]:
    """(middle of the column, least, greatest) of each of ``count`` columns; NaN where a column knows nothing."""
    if len(x) <= count:
        return x, low, high
    edges = np.linspace(float(x[0]), float(x[-1]), count + 1)
    starts = np.searchsorted(x, edges[:-1])
    full = np.diff(np.append(starts, len(x))) > 0
    # reduceat gives an empty column the next sample; those are made unknown.
    least = np.fmin.reduceat(low, np.minimum(starts, len(x) - 1))
    greatest = np.fmax.reduceat(high, np.minimum(starts, len(x) - 1))
    return (
        (edges[:-1] + edges[1:]) / 2.0,
        np.where(full, least, np.nan),
        np.where(full, greatest, np.nan),
    )


def strip(c: Strip) -> str:
    """The chart as one ``<svg>`` element; a sentence where there is nothing to draw."""
    if len(c.x) < 2:
        return f"<p>{escape(c.title)}: no second of it is in the record.</p>"
    axes = _Axes(c)
    name = escape(c.title)
    out = [
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{name}"><title>{name}</title>',
        _frame(axes, c),
        _area(axes, c, c.y - BAND_SIGMAS * c.sigma, c.y + BAND_SIGMAS * c.sigma, "band"),
        _area(axes, c, c.y, c.y, "line"),
    ]
    if c.extra is not None:
        out.append(_line(axes, *c.extra))
    out.append(marks_svg(c.marks, axes.x0, axes.x1, HEIGHT))
    out.append("</svg>")
    return "".join(out)


def _frame(axes: _Axes, c: Strip) -> str:
    right = WIDTH - RIGHT
    rows = []
    for y, cls, label in (
        (c.spill_fr, "lim", f"spill +{c.spill_fr:.0f} fr"),
        (0.0, "zero", "0 fr"),
        (-c.tight_fr, "lim", f"tight −{c.tight_fr:.0f} fr"),
    ):
        py = axes.py(y)
        rows.append(
            f'<path class="{cls}" d="M{LEFT} {py:.1f}H{right}"/><text x="{LEFT - 4}" y="{py + 3:.1f}" '
            f'text-anchor="end">{label}</text>'
        )
    rows.append(ticks_svg(axes.x0, axes.x1, HEIGHT))
    return "".join(rows)


def _x_px(x: float, x0: float, x1: float) -> float:
    return LEFT + (x - x0) / (x1 - x0) * (WIDTH - LEFT - RIGHT)


def ticks_svg(x0: float, x1: float, height: int) -> str:
    """The time axis of a chart ``height`` pixels high, from ``x0`` to ``x1`` seconds."""
    rows = []
    for x in _ticks(x0, x1):
        px = _x_px(x, x0, x1)
        # A label at the very edge would be cut: it is drawn inwards.
        anchor = "end" if px > WIDTH - RIGHT - 15 else "middle"
        rows.append(
            f'<path class="tick" d="M{px:.1f} {height - BOTTOM}v4"/><text x="{px:.1f}" y="{height - 5}" '
            f'text-anchor="{anchor}">{format_time(x)}</text>'
        )
    return "".join(rows)


def marks_svg(marks: Sequence[Mark], x0: float, x1: float, height: int) -> str:
    """What happened, as thin lines; one that stands close behind another bears no letter."""
    rows = []
    lettered = -99.0
    for m in sorted(marks, key=lambda m: m.x):
        if x0 <= m.x <= x1:
            x = _x_px(m.x, x0, x1)
            letter = m.letter if x - lettered >= LETTER_PX else ""
            lettered = x if letter else lettered
            rows.append(
                f'<path class="mark" d="M{x:.1f} {TOP}V{height - BOTTOM}"/><text class="ml" x="{x + 2:.1f}" '
                f'y="{TOP + 7}">{escape(letter)}</text>'
            )
    return "".join(rows)


def _ticks(x0: float, x1: float) -> list[float]:
    span = x1 - x0
    steps = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400)
    step = next((s for s in steps if span / s <= 9), 28800)
    first = int(np.ceil(x0 / step))
    return [float(n * step) for n in range(first, int(x1 // step) + 1)]


def _runs(x: Floats, low: Floats, hole_s: float) -> list[tuple[int, int]]:
    """Runs of columns that know something, without a hole in time."""
    known = ~np.isnan(low)
    runs: list[tuple[int, int]] = []
    start: int | None = None
    for i, ok in enumerate(known.tolist()):
        if start is not None and (not ok or x[i] - x[i - 1] > hole_s):
            runs.append((start, i))
            start = None
        if ok and start is None:
            start = i
    if start is not None:
        runs.append((start, len(known)))
    return runs


def _area(axes: _Axes, c: Strip, low: Floats, high: Floats, cls: str) -> str:
    """A closed shape from least to greatest, for each run of what is known."""
    x, least, greatest = columns(c.x, low, high, WIDTH - LEFT - RIGHT)
    step = float(x[1] - x[0]) if len(x) > 1 else 1.0
    paths: list[str] = []
    for a, b in _runs(x, least, max(c.hole_s, 1.5 * step)):
        upper = [(axes.px(float(x[i])), axes.py(float(greatest[i]))) for i in range(a, b)]
        lower = [(axes.px(float(x[i])), axes.py(float(least[i]))) for i in reversed(range(a, b))]
        if b - a == 1:
            upper.append((upper[0][0] + 1.0, upper[0][1]))
        paths.append(_path([*upper, *lower]) + "z")
    return f'<path class="{cls}" d="{"".join(paths)}"/>' if paths else ""


def _path(points: Sequence[tuple[float, float]]) -> str:
    """Whole tenths of a pixel, as relative steps; points on a straight level line are left out."""
    tenths = [(round(x * 10), round(y * 10)) for x, y in points]
    kept = [tenths[0]]
    for before, here, after in zip(tenths, tenths[1:], tenths[2:], strict=False):
        onward = (here[0] - before[0]) * (after[0] - here[0]) > 0
        if not (onward and before[1] == here[1] == after[1]):
            kept.append(here)
    kept.append(tenths[-1])
    out = [f"M{_tenth(kept[0][0])} {_tenth(kept[0][1])}"]
    for a, b in itertools.pairwise(kept):
        dx, dy = b[0] - a[0], b[1] - a[1]
        if dx or dy:
            out.append(
                f"h{_tenth(dx)}"
                if dy == 0
                else f"v{_tenth(dy)}"
                if dx == 0
                else f"l{_tenth(dx)} {_tenth(dy)}"
            )
    return "".join(out)


def _tenth(n: int) -> str:
    whole, rest = divmod(abs(n), 10)
    text = f"{whole}.{rest}" if rest else str(whole)
    return f"-{text}" if n < 0 else text


def _line(axes: _Axes, x: Floats, y: Floats) -> str:
    """A thin line, broken where nothing is known."""
    seen = (x >= axes.x0) & (x <= axes.x1)
    x, y = x[seen], y[seen]
    runs = [
        _path([(axes.px(float(x[i])), axes.py(float(y[i]))) for i in range(a, b)])
        for a, b in _runs(x, y, float("inf"))
        if b - a > 1
    ]
    return f'<path class="fine" d="{"".join(runs)}"/>' if runs else ""
