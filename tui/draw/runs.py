"""Rows of styled text that are exactly as wide as they should be.

A *run* is (text, style name), a *row* a list of runs, a *block* a list of rows. Outside text enters a row through
:func:`safe` only: no control or escape character ever reaches the terminal, and nothing is read as markup.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TypeAlias

from rich.cells import cell_len, set_cell_size

from interlock.text import clean
from tui.look.glyphs import Glyphs
from tui.look.palette import StyleName

Run: TypeAlias = tuple[str, StyleName]
Row: TypeAlias = list[Run]
Block: TypeAlias = list[Row]


@lru_cache(maxsize=4096)
def _safe(text: str, ascii_only: bool) -> str:
    kept = clean(text, 1000)
    return kept.encode("ascii", "replace").decode() if ascii_only else kept


def safe(text: str, g: Glyphs) -> str:
    """Text from outside as one harmless line; on an ASCII console what it cannot show becomes ``?``."""
    return _safe(text, g.ascii)


def width_of(text: str) -> int:
    """Cells that ``text`` takes."""
    return len(text) if text.isascii() else cell_len(text)


def cut(text: str, width: int, g: Glyphs) -> str:
    """At most ``width`` cells of ``text``; what was cut ends in a mark."""
    if width <= 0:
        return ""
    if width_of(text) <= width:
        return text
    if width == 1:
        return g.more
    kept = set_cell_size(text, width - 1).rstrip(" ")
    return kept + g.more


def fit(text: str, width: int, g: Glyphs, *, right: bool = False, centre: bool = False) -> str:
    """``text`` cut or padded to exactly ``width`` cells."""
    kept = cut(text, width, g)
    room = max(0, width - width_of(kept))
    if centre:
        return " " * (room // 2) + kept + " " * (room - room // 2)
    return " " * room + kept if right else kept + " " * room


def wrap(text: str, width: int, most: int, g: Glyphs) -> list[str]:
    """``text`` in at most ``most`` lines of at most ``width`` cells, broken between words; what was cut ends in a mark."""
    lines: list[str] = []
    line = ""
    words = text.split(" ")
    for n, word in enumerate(words):
        longer = f"{line} {word}" if line else word
        if width_of(longer) <= width:
            line = longer
        elif len(lines) == most - 1:
            return [*lines, cut(" ".join([*([line] if line else []), *words[n:]]), width, g)]
        else:
            if line:
                lines.append(line)
            line = cut(word, width, g)
    return [*lines, line]


def row_width(row: Row) -> int:
    """Cells that the row takes."""
    return sum(width_of(t) for t, _ in row)


def row_fit(row: Row, width: int, g: Glyphs, pad: StyleName = "text") -> Row:
    """The row cut or padded to exactly ``width`` cells."""
    kept: Row = []
    left = max(0, width)
    for text, style in row:
        size = width_of(text)
        if size > left:
            text = fit(text.rstrip(" "), left, g)  # noqa: PLW2901 (the cut text takes the place of the whole one)
            size = left
        if text:
            kept.append((text, style))
        left -= size
    if left:
        kept.append((" " * left, pad))
    return kept


def sides(left: Row, right: Row, width: int, g: Glyphs) -> Row:
    """One row with ``left`` at its left and ``right`` at its right end; the left gives way."""
    right_width = min(row_width(right), max(0, width))
    return row_fit(left, width - right_width, g) + row_fit(right, right_width, g)


def beside(blocks: list[tuple[Block, int]], height: int, g: Glyphs, gap: int = 0) -> Block:
    """Blocks side by side, each of its own width, ``gap`` cells between them."""
    rows: Block = []
    for y in range(height):
        row: Row = []
        for n, (block, width) in enumerate(blocks):
            if n and gap:
                row.append((" " * gap, "text"))
            row += row_fit(block[y] if y < len(block) else [], width, g)
        rows.append(row)
    return rows


def block_fit(block: Block, width: int, height: int, g: Glyphs) -> Block:
    """The block cut or padded to exactly ``width`` × ``height`` cells."""
    kept = [row_fit(row, width, g) for row in block[: max(0, height)]]
    return kept + [row_fit([], width, g) for _ in range(height - len(kept))]


def plain(block: Block) -> str:
    """The text alone, for tests and for people without colours."""
    return "\n".join("".join(t for t, _ in row) for row in block)
