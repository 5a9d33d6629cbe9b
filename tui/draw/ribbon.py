"""The ribbon: the whole print from head to tail as one bar, and every gate standing on it where the print is there."""

from __future__ import annotations

from tui.draw.runs import Block, Row, block_fit, fit, row_fit, safe, width_of
from tui.draw.view import View, mark_of
from tui.draw.words import duration
from tui.look.palette import StyleName

HEIGHT = 4
ASIDE_CELLS = 6
"""So far beyond its place a house stands, rather than not at all: never before one that has less of the print behind it."""


def draw_ribbon(view: View, width: int, height: int = HEIGHT) -> Block:
    """Gates above, the bar, the names of the parts below. Head of the print at the left."""
    g = view.g
    if width < 12 or height < 3 or not view.layout.parts:
        return block_fit([], width, height, g)
    length = max(1, view.layout.length_fr)
    bar_at, bar = _ends(width)
    stands = height - 2
    rows: Block = [*_gates(view, bar_at, bar, width, stands, length), _bar(view, bar_at, bar, width, length)]
    rows.append(_names(view, bar_at, bar, width, length))
    return block_fit(rows, width, height, g)


def _ends(width: int) -> tuple[int, int]:
    head = 9 if width >= 60 else 0
    return head, width - 2 * head


def _gates(view: View, at: int, bar: int, width: int, rows: int, length: int) -> Block:
    """Every house above its place; those that would cover another go one row up, those for which there is no row are counted."""
    g = view.g
    taken: list[list[tuple[int, str, StyleName]]] = [[] for _ in range(rows)]
    unknown = 0
    waiting: list[str] = []
    through: list[str] = []
    over: list[str] = []
    before = 0
    for k in range(min(len(view.state.houses), len(view.layout.houses)) - 1, -1, -1):
        line = view.state.houses[k]
        name = safe(line.house, g)
        if line.frame is None:
            unknown += 1
            continue
        if line.frame < 0:
            waiting.insert(0, name)
            continue
        if line.phase == "clear":
            through.insert(0, name)
            continue
        x = at + min(bar - 1, int(line.frame / length * bar))
        alarm = view.house_alarm(line.house)
        style: StyleName = "strong" if alarm is None else mark_of(alarm)
        if alarm is None and k == view.house:
            style = "pick"
        x = max(0, min(x - width_of(name) // 2, width - width_of(name)))
        free = (
            (x1, y)
            for x1 in range(x, min(x + ASIDE_CELLS, width - width_of(name)) + 1)
            for y in range(rows - 1, -1, -1)
            if x1 >= before
            and all(x1 + width_of(name) < x2 or x2 + width_of(t) < x1 for x2, t, _ in taken[y])
        )
        for x1, y in free:
            taken[y].append((x1, name, style))
            before = x1
            break
        else:
            over.insert(0, name)
    label: list[tuple[int, str, StyleName]] = [(2, "houses", "dim")] if at else []
    if label and taken and all(x > 9 for x, _, _ in taken[-1]):
        taken[-1] += label
    block = [_placed(row, width, view) for row in taken]
    if not block:
        return block
    # Who waits stands at the head, who is through at the tail: where they are. What covers nobody's place goes there.
    ends = [x for x, _, _ in taken[0]], [x + width_of(t) for x, t, _ in taken[0]]
    first, last = min(ends[0], default=width), max(ends[1], default=0)
    head = _named("on leader", waiting, min(first - 4, width // 2))
    tail = [f"{unknown} {'house' if unknown == 1 else 'houses'} not known"] if unknown else []
    room = max(width - max(last, width_of(head) + 4) - 2, 24)
    tail += [_named("no room for", over, room // 2)] if over else []
    tail += [_named("through", through, room - sum(map(width_of, tail)) - 2)] if through else []
    if waiting and not head:
        tail.append(_named("on leader", waiting, room // 2) or f"{len(waiting)} on leader")
    said = f" {', '.join(t for t in tail if t)}" if tail else ""
    row = row_fit(block[0], max(0, width - width_of(said)), g)
    if head:
        row = [(f"  {head} ", "dim"), *_after(row, width_of(head) + 3)]
    block[0] = row_fit([*row, (said, "dim")], width, g)
    return block


def _named(what: str, names: list[str], room: int) -> str:
    """``on leader: 4 3 1``; how many where there is no room to name them; nothing where there is none for that."""
    if not names:
        return ""
    count = f"{len(names)} {'house' if len(names) == 1 else 'houses'} {what}"
    if what.endswith("for"):
        count = f"{what} {len(names)} houses"
    return next((t for t in (f"{what}: {' '.join(names)}", count) if width_of(t) <= room), "")


def _after(row: Row, cells: int) -> Row:
    """The row without its first ``cells`` cells, which are blank."""
    kept: Row = []
    for text, style in row:
        gone = min(cells, width_of(text))
        cells -= gone
        if text[gone:]:
            kept.append((text[gone:], style))
    return kept


def _placed(items: list[tuple[int, str, StyleName]], width: int, view: View) -> Row:
    row: Row = []
    x = 0
    for at, text, style in sorted(items):
        row += [(" " * (at - x), "text"), (text, style)]
        x = at + width_of(text)
    return row_fit(row, width, view.g)


def _bar(view: View, at: int, bar: int, width: int, length: int) -> Row:
    g = view.g
    row: Row = [(fit("head " + g.limit_left, at, g, right=True), "dim")] if at else []
    for n, part in enumerate(view.layout.parts):
        first = round(part.start_fr / length * bar)
        last = round((part.start_fr + part.frames) / length * bar)
        shade = g.shades.get(part.kind, g.shades[""])
        cells = max(0, last - first)
        if not cells:
            continue
        # The first cell of a part is a cut in the film, so that two parts of one kind stay two.
        cut = g.side if n and cells > 1 else ""
        row.append((cut + shade * (cells - len(cut)), "dim"))
    row = row_fit(row, at + bar, g)
    if at:
        row.append((fit(g.limit_right + " tail", at, g), "dim"))
    return row_fit(row, width, g)


def _names(view: View, at: int, bar: int, width: int, length: int) -> Row:
    g = view.g
    row: Row = [(" " * at, "text")] if at else []
    x = at
    for n, part in enumerate(view.layout.parts):
        first = at + round(part.start_fr / length * bar)
        last = at + round((part.start_fr + part.frames) / length * bar)
        room = last - max(first, x) - 1
        if room < 4 or first < x:
            continue
        name = safe(part.name, g)
        time = duration(part.frames / view.layout.fps) if view.layout.fps > 0 else ""
        text = f"{name} {time}" if width_of(name) + len(time) + 1 <= room else name
        if width_of(name) > room:
            if room < 9:
                continue  # three letters of a name say nothing
            text = f"{n + 1} {name}"  # as in the tiles: the end of a name tells parts apart, where it is cut their number
        row += [(" " * (first - x), "text"), (fit(text, room, g), "dim")]
        x = first + room
    return row_fit(row, width, g)
