"""A house as a tile: its number large, its signals, what is in the gate, how far from plan, what comes next."""

from __future__ import annotations

from interlock.watch.state import HouseLine
from tui.draw.digits import SIZES, large, size_for
from tui.draw.house import SIGNALS, gate_text, next_words, plan_run, signal_run, speed_text
from tui.draw.runs import Block, Row, block_fit, cut, fit, row_fit, safe, sides, width_of
from tui.draw.view import View, glyph_of, mark_of, style_of, told_on_house
from tui.draw.words import duration, footage, part_at, to_first_picture_s
from tui.look.palette import StyleName

LEAST_WIDTH = 20
HEIGHTS = (15, 10, 8)
"""Heights that a tile is drawn in, largest first: the number ten, five and three rows high."""
_SIGNS = 8


def heights(width: int, id_width: int) -> tuple[int, ...]:
    """The heights that are of use at this width: no taller than the number that fits into it, the same for all houses."""
    room = width - 3 - _SIGNS
    fits = [
        h
        for h, (cells, _) in zip(HEIGHTS, SIZES, strict=True)
        if id_width * (cells + cells // 3) - cells // 3 <= room
    ]
    return tuple(h for h in HEIGHTS if h in fits) or HEIGHTS[-1:]


def draw_tile(view: View, k: int, width: int, height: int) -> Block:
    """House ``k`` in ``width`` × ``height`` cells."""
    g = view.g
    if k >= len(view.state.houses):
        return block_fit([], width, height, g)
    line = view.state.houses[k]
    inner = max(0, width - 3)
    head = height - 5 if height > 8 else 4
    rows: Block = [_title(view, k, inner)]
    rows += _head(view, k, line, inner, head)
    rows += _gate(view, line, inner, 2 if height > 8 else 1)
    speed: Row = [(speed_text(line), "dim")] if inner >= 21 else []
    rows.append(sides(plan_run(view, line, min(11, inner)), speed, inner, g))
    rows.append(next_words(view, line.house, inner, short=inner < 24))
    alarm = view.house_alarm(line.house)
    edge: StyleName = "dim"
    if alarm is not None:
        edge = mark_of(alarm)
    elif k == view.house:
        edge = "strong"
    bar = "|" if g.ascii else ("┃" if k == view.house else "│")
    if k == view.house and g.ascii:
        bar = "#"
    return block_fit([[(bar, edge), (" ", "text"), *r] for r in rows], width, height, g)


def _title(view: View, k: int, width: int) -> Row:
    g = view.g
    lay = view.layout.houses[k]
    alarm = view.house_alarm(lay.house)
    if alarm is not None:
        return [(fit(f"{glyph_of(alarm, view)} {told_on_house(alarm)}", width, g), style_of(alarm))]
    name = safe(lay.name, g) or f"house {safe(lay.house, g)}"
    booth = safe(lay.booth, g)
    style: StyleName = "pick" if k == view.house else "dim"
    room = width - width_of(booth) - 1
    if not booth or room < 8:
        return [(fit(name, width, g), style)]
    return [(fit(name, room, g) + " ", style), (fit(booth, width - room - 1, g), style)]


def _head(view: View, k: int, line: HouseLine, width: int, height: int) -> Block:
    g = view.g
    house = safe(view.layout.houses[k].house, g)
    room = width - _SIGNS
    longest = max((lay.house for lay in view.layout.houses), key=len)
    size = size_for(longest, room, height, g)
    if size is None:
        drawn, drawn_width = [cut(house, max(1, room), g)], max(1, min(room, width_of(house)))
    else:
        drawn = large(house, size, g)
        drawn_width = len(drawn[0])
    alarm = view.house_alarm(line.house)
    style: StyleName = "strong" if alarm is None else mark_of(alarm)
    if line.phase == "clear" or line.dark:
        style = "dim" if alarm is None else style
    words = max(0, width - drawn_width - 2)
    signals: Block = [signal_run(view, line, s[0], min(words, 7)) for s in SIGNALS]
    if line.dark:
        signals.append([(fit("dark", min(words, 7), g), "strong")])
    top = max(0, (height - len(signals)) // 2)
    rows: Block = []
    for y in range(height):
        row: Row = [(fit(drawn[y] if y < len(drawn) else "", drawn_width, g), style), ("  ", "text")]
        rows.append(row + (signals[y - top] if 0 <= y - top < len(signals) else []))
    return [row_fit(r, width, g) for r in rows]


def _gate(view: View, line: HouseLine, width: int, height: int) -> Block:
    g = view.g
    style: StyleName = "dim" if line.frame is None else "strong"
    if height == 1 or line.frame is None or line.phase == "clear":
        return [[(gate_text(view, line, width), style)], *([[]] if height > 1 else [])]
    to_first_s = to_first_picture_s(view.layout, line)
    if to_first_s is not None:
        words = "picture in" if line.run else "leader to run"
        return [
            [(fit(f"{words} {duration(to_first_s)}", width, g), "strong")],
            [(fit("leader in the gate", width, g), "dim")],
        ]
    n = part_at(view.layout, line.frame)
    if n is None:
        return [[(fit("film through", width, g), "dim")], []]
    part = view.layout.parts[n]
    feet = footage(view.layout, line.frame - part.start_fr)
    whole = f"{feet} of {footage(view.layout, part.frames)}"
    feet = whole if len(whole) <= width else feet
    name = safe(part.name, g)
    if width_of(name) > width:
        name = f"{n + 1} {name}"  # the end of a name tells two parts of one film apart; where it is cut, their number does
    return [[(fit(name, width, g), "text")], [(fit(feet, width, g), "strong")]]
