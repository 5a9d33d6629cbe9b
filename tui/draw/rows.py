"""Houses as a list, one line a house: for many houses or little room. The film runs down the list."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from tui.draw.house import gate_text, next_words, plan_run, signal_run, speed_text
from tui.draw.loop import gauge_row
from tui.draw.runs import Block, Row, beside, fit, row_fit, row_width, safe
from tui.draw.view import View, style_of
from tui.look.glyphs import Glyphs
from tui.look.palette import StyleName

WIDE_LOOP = 26
"""Cells of a loop's column from which on its number is said in full."""
Drawer = Callable[[View, int, int], Row]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: what stands over it, how narrow and how wide it may be, and which goes first when there is no room."""

    name: str
    heading: str
    least: int
    most: int
    goes: int
    """Columns with a higher number are dropped first."""
    draw: Drawer


def _signal(signal: str) -> Drawer:
    return lambda view, k, w: signal_run(view, view.state.houses[k], signal, w)


def _gate(view: View, k: int, w: int) -> Row:
    line = view.state.houses[k]
    if line.dark:
        return [(fit(f"dark {gate_text(view, line, max(0, w - 5)).rstrip()}", w, view.g), "dim")]
    return [(gate_text(view, line, w), "dim" if line.frame is None else "text")]


COLUMNS = (
    Column("run", "motor", 5, 6, 1, _signal("run")),
    Column("lamp", "lamp", 5, 6, 2, _signal("lamp")),
    Column("dowser", "dowsr", 5, 6, 5, _signal("dowser")),
    Column("film", "film", 5, 6, 8, _signal("film")),
    Column("gate", "in the gate", 14, 34, 3, _gate),
    Column("plan", "plan, s", 9, 11, 6, lambda v, k, w: plan_run(v, v.state.houses[k], w)),
    Column("speed", "speed", 9, 9, 9, lambda v, k, w: [(fit(speed_text(v.state.houses[k]), w, v.g), "dim")]),
    Column("loop", "loop to the next: frames left", 19, 44, 0, gauge_row),
    Column(
        "next",
        "next here",
        12,
        24,
        4,
        lambda v, k, w: next_words(v, v.state.houses[k].house, w, short=w < 20),
    ),
)


@lru_cache(maxsize=256)
def columns(width: int) -> tuple[tuple[Column, int], ...]:
    """The columns that fit into ``width`` cells (gaps of one between them), each with its width."""
    kept = list(COLUMNS)
    while kept and sum(c.least + 1 for c in kept) - 1 > width:
        if len(kept) == 1:
            return ((kept[0], width),)
        kept.remove(max(kept, key=lambda c: c.goes))
    if not kept:
        return ()
    widths = {c.name: c.least for c in kept}
    spare = width - sum(widths.values()) - (len(kept) - 1)
    for c in sorted(kept, key=lambda c: {"gate": 0, "loop": 1, "next": 2}.get(c.name, 3)):
        more = min(spare, c.most - c.least)
        widths[c.name] += more
        spare -= more
    return tuple((c, widths[c.name]) for c in kept)


def id_width(view: View) -> int:
    """Cells for the name of a house, the mark of the picked one before it, the glyph of its alarm behind it."""
    return 2 + max((len(h.house) for h in view.layout.houses), default=1)


def heading(view: View, width: int) -> Row:
    """What stands over the columns."""
    g = view.g
    row: Row = [(fit(" hs" if id_width(view) < 6 else " house", min(width, id_width(view)), g), "dim")]
    for c, w in columns(max(0, width - id_width(view) - 1)):
        text = c.heading
        if c.name == "loop":
            text = _loop_heading(w, g)
        row += [(" ", "text"), (fit(text, w, g), "dim")]
    return row_fit(row, width, g)


def _loop_heading(width: int, g: Glyphs) -> str:
    """Over the gauge its two ends, where there is room; over the number, which reads ``41 spill``, its unit."""
    if width < WIDE_LOOP:
        return f"{fit('loop', max(5, width - 9), g)}frames"
    scale = width - 14
    scale -= 1 - scale % 2
    middle = fit(
        "loop to the next" if scale >= 28 else "loop" if scale >= 16 else "", scale - 10, g, centre=True
    )
    return f"tight{middle}spill frames left"


def house_row(view: View, k: int, width: int) -> Row:
    """House ``k`` in one line."""
    g = view.g
    if k >= len(view.state.houses):
        return row_fit([], width, g)
    house = view.layout.houses[k].house
    alarm = view.house_alarm(house)
    idw = id_width(view)
    style: StyleName = "pick" if k == view.house else "strong"
    told = " "
    if alarm is not None:
        style = style_of(alarm)
        told = {"high": g.high, "medium": g.medium, "low": g.low}[alarm.priority]
    name = fit(safe(house, g), max(1, idw - 2), g)
    row: Row = [(g.pick if k == view.house else " ", "strong"), (name + told, style)]
    for c, w in columns(max(0, width - idw - 1)):
        row.append((" ", "text"))
        row += c.draw(view, k, w)
    return row_fit(row, width, g)


def draw_rows(view: View, width: int, height: int, across: int = 1, top: int = 0) -> Block:
    """The list in ``across`` columns; ``top``: the first house shown. The last row says what is not shown."""
    g = view.g
    gap = 2
    each = (width - gap * (across - 1)) // across
    lines = max(0, height - 1)
    blocks: list[tuple[Block, int]] = []
    for column in range(across):
        first = top + column * lines
        shown = range(first, min(first + lines, len(view.layout.houses)))
        blocks.append(([heading(view, each), *[house_row(view, k, each) for k in shown]], each))
    block = [row_fit(r, width, g) for r in beside(blocks, height, g, gap)]
    hidden = len(view.layout.houses) - top - across * lines
    if block and (hidden > 0 or top > 0):
        above = f"{top} above" if top else ""
        below = f"{hidden} below" if hidden > 0 else ""
        note = ", ".join(t for t in (above, below) if t)
        said = f" {note}: j k move "
        room = max(0, width - len(said))
        kept: Row = []
        for text, style in block[0]:
            whole = text
            while whole and row_width(kept) + len(whole.rstrip()) > room:
                whole = whole.rstrip().rpartition(" ")[0]  # a word of a heading gives way whole
            kept.append((whole, style))
            if whole != text:
                break
        block[0] = row_fit([*row_fit(kept, room, g), (said, "strong")], width, g)
    return block
