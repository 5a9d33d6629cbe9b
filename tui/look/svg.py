"""Rows of styled text as an SVG picture: one rectangle and one text a run, no fonts from elsewhere, the same bytes every time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeAlias
from xml.sax.saxutils import escape, quoteattr

from tui.draw.runs import Block, width_of
from tui.look.palette import Ink, Palette

CELL_W, CELL_H, FONT = 8.4, 17.0, 14
_FAMILY = "ui-monospace, 'DejaVu Sans Mono', Menlo, Consolas, monospace"

_BLANK = "\u00a0"
"""Several ordinary blanks would be drawn as one."""

InkRow: TypeAlias = Sequence[tuple[str, Ink]]


def svg(block: Block, palette: Palette, title: str) -> str:
    """The picture of a block; ``title`` is what a screen reader says of it."""
    return draw_svg(
        [[(text, palette.inks[style]) for text, style in row] for row in block], palette.ground, title
    )


def draw_svg(rows: Sequence[InkRow], ground: str, title: str) -> str:
    """The picture of rows whose runs have their inks already: of a whole screen, its lines of text included."""
    columns = max((sum(width_of(t) for t, _ in row) for row in rows), default=0)
    width, height = columns * CELL_W + 16, len(rows) * CELL_H + 16
    size = f'width="{width:.0f}" height="{height:.0f}" viewBox="0 0 {width:.1f} {height:.1f}"'
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-label={quoteattr(title)}>',
        f'<rect width="100%" height="100%" fill="{ground}"/>',
        f'<g font-family="{_FAMILY}" font-size="{FONT}">',
    ]
    for y, row in enumerate(rows):
        x = 0
        for text, ink in row:
            for piece in _pieces(text):
                cells = width_of(piece)
                out.append(_run(piece, ink, ground, x, y, cells))
                x += cells
    return "\n".join([*(line for line in out if line), "</g>", "</svg>", ""])


def _pieces(text: str) -> list[str]:
    """Parted behind every wide gap: where a font lacks a sign, what stands beyond the gap still stands in its place."""
    return [piece for piece in re.split(r"(?<=   )(?! )", text) if piece]


def _run(text: str, ink: Ink, ground: str, x: int, y: int, cells: int) -> str:
    colour, behind = (ink.ground, ink.colour) if ink.reverse else (ink.colour, ink.ground)
    left, top = 8 + x * CELL_W, 8 + y * CELL_H
    parts = []
    if behind != ground:
        parts.append(
            f'<rect x="{left:.1f}" y="{top:.1f}" width="{cells * CELL_W:.1f}" height="{CELL_H}" fill="{behind}"/>'
        )
    if text.strip():
        lead = len(text) - len(text.lstrip(" "))
        said = text.strip(" ")
        look = f"{' font-weight=' + quoteattr('bold') if ink.bold else ''}"
        look += f"{' text-decoration=' + quoteattr('underline') if ink.underline else ''}"
        length = width_of(said) * CELL_W
        parts.append(
            f'<text x="{left + lead * CELL_W:.1f}" y="{top + 13:.1f}" fill="{colour}"{look} '
            f'textLength="{length:.1f}" lengthAdjust="spacingAndGlyphs">{escape(said.replace(" ", _BLANK))}</text>'
        )
    return "".join(parts)
