"""The line: the film as it runs through the screen, feed, gate, loop, gate, loop, … take-up."""

from __future__ import annotations

from tui.draw.loop import NAMED, TIGHT, gauge, hanging, left_row, named_gauge
from tui.draw.runs import Block, Row, block_fit, fit, row_fit, safe
from tui.draw.view import View, mark_of, style_of
from tui.look.palette import StyleName

LEAST_LOOP = 8
_END = 6


def line_height(depth: int = 4) -> int:
    """Rows that the line takes with loops ``depth`` rows deep: heading of the ends, film, gauge, number."""
    return depth + 3


def line_fits(view_houses: int, id_width: int, width: int) -> bool:
    """Whether the whole chain fits side by side at this width."""
    return view_houses * (id_width + 2) + max(0, view_houses - 1) * LEAST_LOOP + 2 * _END <= width


def draw_line(view: View, width: int, depth: int = 4) -> Block:
    """The film in chain order; ``depth``: rows from the gates to the bottom of a loop at spill."""
    g = view.g
    houses = view.layout.houses
    height = line_height(depth)
    idw = max((len(h.house) for h in houses), default=1)
    gate = idw + 2
    loops = min(len(view.state.links), len(view.layout.links), max(0, len(houses) - 1))
    room = width - 2 * _END - len(houses) * gate
    if not houses or room < loops * 3:
        return block_fit([], width, height, g)
    each, spare = divmod(room, loops) if loops else (0, room)
    each = min(each, 34)
    rows: Block = [[] for _ in range(height)]
    _platter(view, rows, "feed", view.layout.feed, left=True)
    for k, house in enumerate(houses):
        _gate(view, rows, k, house.house, gate, words=0 < k <= loops)
        if k < loops:
            w = each + (1 if k < spare and each < 34 else 0)
            _loop(view, rows, k, w, depth, gate, min(22, each + gate - _under(each) - 1))
    _platter(view, rows, "take-up", view.layout.take_up, left=False)
    return block_fit(rows, width, height, g)


def _platter(view: View, rows: Block, name: str, there: bool, *, left: bool) -> None:
    g = view.g
    film = g.flat * 2
    alarm = view.loop_alarm(name)
    style: StyleName = "dim" if alarm is None else mark_of(alarm)
    words = "feed" if name == "feed" else "take-up"
    drawn = [f"({g.reel})", film] if left else [film, f"({g.reel})"]
    if not there:
        drawn = [" " * 5]
    for y, row in enumerate(rows):
        if y == 1:
            row.append((fit("".join(drawn), _END, g, right=left), style))
        elif y == 2 and there:
            row.append((fit(words if left else "take", _END, g, right=False), style))
        elif y == 3 and there and not left:
            row.append((fit("-up", _END, g), style))
        else:
            row.append((" " * _END, "text"))


def _gate(view: View, rows: Block, k: int, house: str, width: int, *, words: bool) -> None:
    """``words``: those of the loop before it go on under it."""
    g = view.g
    alarm = view.house_alarm(house)
    style: StyleName = "strong" if alarm is None else style_of(alarm)
    if k == view.house and alarm is None:
        style = "pick"
    box = g.gate_left + fit(safe(house, g), width - 2, g, centre=True) + g.gate_right
    glyph = " "
    line = view.state.houses[k] if k < len(view.state.houses) else None
    if line is not None:
        glyph = g.unknown if line.run is None else (g.on if line.run else g.off)
    for y, row in enumerate(rows):
        if y == 1:
            row.append((box, style))
        elif y == 2:
            row.append((fit(glyph, width, g, centre=True), "text"))
        elif y < len(rows) - 1 or not words:
            row.append((" " * width, "text"))


def _scale(width: int) -> tuple[int, int]:
    """Cells before a loop's gauge, and of it."""
    scale = NAMED if width >= NAMED else min(width - 2, 25)
    scale -= 1 - scale % 2
    return max(0, (width - scale) // 2), scale


def _under(width: int) -> int:
    """Cells before a loop's words, which stand under its gauge."""
    return _scale(width)[0] + (len(TIGHT) if width >= NAMED else 0)


def _loop(view: View, rows: Block, k: int, width: int, depth: int, gate: int, said_width: int) -> None:
    """``gate``: cells of the next gate; the words go on under it, where nothing else stands.

    ``said_width``: cells for them, the same for all loops, so that all are said alike.
    """
    g = view.g
    line, lay = view.state.links[k], view.layout.links[k]
    drawn = hanging(view, k, width, depth)
    pad, scale = _scale(width)
    measure: Row = [(" " * pad, "text"), *(named_gauge if width >= NAMED else gauge)(view, line, lay, scale)]
    said: Row = left_row(view, line, said_width)
    for y, row in enumerate(rows):
        if 1 <= y <= depth:
            row.extend(row_fit(drawn[y - 1], width, g))
        elif y == depth + 1:
            row.extend(row_fit(measure, width, g))
        elif y == depth + 2:
            row.extend(row_fit([(" " * _under(width), "text"), *said], width + gate, g))
        else:
            row.append((" " * width, "text"))
