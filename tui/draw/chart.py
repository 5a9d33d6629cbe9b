"""A strip chart of one loop's drift: limits above and below, the line, and its uncertainty as a band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

from tui.draw.runs import Block, Row, block_fit, fit, row_fit
from tui.look.glyphs import Glyphs
from tui.look.palette import StyleName

Point: TypeAlias = tuple[float, float | None, float | None]
"""(show second, drift in frames, sigma in frames); None where not known."""
# Braille dots by (column, row) in a cell of 2 × 4.
_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_LABEL = 12


def draw_chart(
    points: Sequence[Point], tight_fr: float, spill_fr: float, span_s: float, width: int, height: int, g: Glyphs,
    style: StyleName = "strong", end: str = "now",
) -> Block:  # fmt: skip
    """``span_s`` seconds up to the newest point, under which ``end`` stands.

    Tight below, spill above, so that a hanging loop is a high line.
    """
    inner = width - _LABEL
    if inner < 4 or height < 3:
        return block_fit([], width, height, g)
    plot_rows = height - 1
    line = [[0] * inner for _ in range(plot_rows)]
    band = [[0] * inner for _ in range(plot_rows)]
    gaps = [False] * inner
    top, bottom = max(spill_fr, 1.0) * 1.15, -max(tight_fr, 1.0) * 1.15
    end_s = points[-1][0] if points else 0.0
    for show_s, drift, sigma in points:
        back = (end_s - show_s) / span_s
        if not 0 <= back <= 1:
            continue
        x = min(inner * 2 - 1, round((1 - back) * (inner * 2 - 1)))
        if drift is None or not math.isfinite(drift):
            gaps[x // 2] = True
            continue
        if sigma is not None and math.isfinite(sigma):
            low, high = (
                _y(drift - 2 * sigma, top, bottom, plot_rows),
                _y(drift + 2 * sigma, top, bottom, plot_rows),
            )
            for y in range(min(low, high), max(low, high) + 1):
                band[y // 4][x // 2] |= _DOTS[x % 2][y % 4]
        y = _y(drift, top, bottom, plot_rows)
        line[y // 4][x // 2] |= _DOTS[x % 2][y % 4]
    marks = {
        _y(spill_fr, top, bottom, plot_rows) // 4: f"spill +{spill_fr:.0f}",
        _y(0.0, top, bottom, plot_rows) // 4: "at rest 0",
        _y(-tight_fr, top, bottom, plot_rows) // 4: f"tight {g.minus}{tight_fr:.0f}",
    }
    rows: Block = []
    for y in range(plot_rows):
        row: Row = [(fit(marks.get(y, ""), _LABEL - 1, g, right=True) + " ", "dim")]
        for x in range(inner):
            row.append(_cell(line[y][x], band[y][x], y in marks, gaps[x] and y == plot_rows // 2, g, style))
        rows.append(row)
    ago = f"{span_s / 60:.0f} min ago"
    rows.append([(" " * _LABEL, "dim"), (fit(ago, max(0, inner - len(end)), g), "dim"), (end, "dim")])
    return [row_fit(r, width, g) for r in rows]


def _y(value: float, top: float, bottom: float, rows: int) -> int:
    share = (top - max(bottom, min(top, value))) / (top - bottom)
    return min(rows * 4 - 1, int(share * rows * 4))


def _cell(line: int, band: int, mark: bool, gap: bool, g: Glyphs, style: StyleName) -> tuple[str, StyleName]:
    if line:
        return ("*" if g.ascii else chr(0x2800 + (line | band)), style)
    if band:
        return (":" if g.ascii else chr(0x2800 + band), "dim")
    if gap:
        return (g.unknown, "strong")
    return (g.broken if mark else " ", "dim")
