"""Cues: what a person must do next, over all houses, in the order of time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TypeAlias

from interlock.watch.state import CueLine
from tui.draw.runs import Block, Row, block_fit, fit, row_fit, safe, width_of, wrap
from tui.draw.view import View
from tui.draw.words import countdown, cue_words, duration, from_start
from tui.look.palette import StyleName

MOST_ROWS = 4
"""Of the words of one cue."""
GOES_ON = 4
"""Cells before what did not fit into the first row."""
COMING_ROWS = 2
"""On the board, until it is due."""
LEAST_WHEN = 7
"""Cells of a cue's time on the board: ``-1:04:56`` needs one more, and then all have it."""
CueKey: TypeAlias = tuple[str, str, int]
"""(house, cue, how many of the same are still to come after it): names a cue while those before it are done."""


def still(cues: Iterable[CueLine]) -> list[tuple[CueKey, CueLine]]:
    """The cues that are not done, each with its name."""
    seen: Counter[tuple[str, str]] = Counter()
    found = []
    for c in reversed([c for c in cues if c.state != "done"]):
        found.append(((c.house, c.cue, seen[c.house, c.cue]), c))
        seen[c.house, c.cue] += 1
    return found[::-1]


def draw_cues(view: View, width: int, height: int) -> Block:
    """One cue a row with its countdown; due ones strong, missed ones marked. For a board."""
    return block_fit([row for row, _ in cue_rows(view, width, height)], width, height, view.g)


def draw_cue_sheet(view: View, width: int, height: int, picked: CueKey | None) -> Block:
    """The same with a heading, and as far down as the picked one needs it."""
    return block_fit([row for row, _ in sheet_rows(view, width, height, picked)], width, height, view.g)


def cue_rows(view: View, width: int, height: int) -> list[tuple[Row, CueKey | None]]:
    """The rows of the board's list, each with its cue."""
    g = view.g
    if view.lost_s is not None:
        return [([("cues not known", "dim")], None)]
    cues = still(view.state.cues)
    whens = max([LEAST_WHEN, *(len(_when(view, c)[0]) for _, c in cues)])
    rows: list[tuple[Row, CueKey | None]] = [
        (row, key) for key, c in cues for row in _cue(view, c, width, whens)
    ]
    if not rows:
        return [([(f"{g.dot} no cues near", "dim")], None)]
    if len(rows) > height > 1:
        shown = rows[: height - 1]
        if rows[height - 1][1] == shown[-1][1]:  # what is cut is seen to be cut
            last = next(c for key, c in cues if key == shown[-1][1])
            cut = _cue(view, last, width, whens, sum(key == shown[-1][1] for _, key in shown))
            shown = [*shown[: -len(cut)], *((row, shown[-1][1]) for row in cut)]
        rest = len(cues) - len({key for _, key in shown})
        rows = [
            *shown,
            ([(f"{g.fold} {rest} more{': F5 shows them all' if view.keys else ''}", "dim")], None),
        ]
    return rows


def sheet_rows(view: View, width: int, height: int, picked: CueKey | None) -> list[tuple[Row, CueKey | None]]:
    """The rows of the cue sheet, each with its cue."""
    g = view.g
    if view.lost_s is not None:
        return cue_rows(view, width, height)
    cues = still(view.state.cues)
    if not cues:
        return cue_rows(view, width, height)
    early = any(c.due_s is not None and c.due_s < 0 for _, c in cues)
    when = "in" if view.state.show_s is not None else "from start" if early else "after start"
    house = max(7, _house_width(view) + 2)
    heading: Row = [(f"{fit(when, 11, g, right=True)}  {fit('house', house, g)}what to do", "dim")]
    room = max(1, height - 1)
    told = [[(row, key) for row in _sheet_cue(view, c, width, key == picked, house)] for key, c in cues]
    at = next((n for n, (key, _) in enumerate(cues) if key == picked), 0)
    rows: list[tuple[Row, CueKey | None]] = [(heading, None)]
    if sum(map(len, told)) <= room:
        return rows + [row for chunk in told for row in chunk]
    room = max(1, room - 1)
    first = at
    while first > 0 and sum(map(len, told[first - 1 : at + 1])) <= room // 2:
        first -= 1
    while first > 0 and sum(map(len, told[first - 1 :])) <= room:
        first -= 1
    last, used = first, 0
    while last < len(told) and used + len(told[last]) <= room:
        used += len(told[last])
        last += 1
    if last == first:  # one alone is higher than the screen
        return rows + told[first][: max(0, height - 1)]
    rows += [row for chunk in told[first:last] for row in chunk]
    rest = len(cues) - last
    words = f"{g.fold} {rest} more below" if rest else f"{g.fold} the last of {len(cues)}"
    return [*rows, ([(f"{words}; j k move, and pick the cue's house", "dim")], None)]


def _house_width(view: View) -> int:
    return max((len(h.house) for h in view.layout.houses), default=1)


def _when(view: View, c: CueLine) -> tuple[str, str, StyleName]:
    """The time that is left, a mark and the style of a cue."""
    g = view.g
    if c.state == "due":
        return "NOW", g.pick, "strong"
    left_s = None if c.due_s is None or view.state.show_s is None else c.due_s - view.state.show_s
    if c.state == "missed":
        return ("missed" if left_s is None else f"{g.minus}{duration(-left_s)}"), g.medium, "medium-mark"
    if c.due_s is None:
        return g.unknown, " ", "text"
    return (from_start(c.due_s, g.minus) if left_s is None else countdown(left_s)), " ", "text"


def _sheet_cue(view: View, c: CueLine, width: int, picked: bool, house: int) -> Block:
    """A cue of the sheet; ``house``: cells of its house. Words of the show file's own are told whole, in more rows."""
    g = view.g
    when, mark, style = _when(view, c)
    lead = f"{fit(when, 9, g, right=True)}  {fit(safe(c.house, g), house, g)}"
    first, *rest = wrap(safe(cue_words(c.cue), g), max(8, width - 2 - width_of(lead)), MOST_ROWS, g)
    shown: StyleName = "pick" if picked else style
    return [
        row_fit(
            [
                (g.pick if picked else " ", "strong"),
                (mark if c.state == "missed" else " ", style),
                (lead + first, shown),
            ],
            width,
            g,
        ),
        *[row_fit([(" " * (2 + width_of(lead)), "text"), (line, shown)], width, g) for line in rest],
    ]


def _cue(view: View, c: CueLine, width: int, whens: int, most: int = MOST_ROWS) -> Block:
    """A cue of the board, all its words once it is due; what does not fit goes on in the next row.

    ``whens``: cells for its time; ``most``: rows that there are for it.
    """
    g = view.g
    when, mark, style = _when(view, c)
    house = fit(f"house {safe(c.house, g)}", _house_width(view) + 6, g)
    time = f"{mark} {fit(when, whens, g, right=True)}  "
    room, below = max(8, width - width_of(time + house) - 2), max(8, width - GOES_ON)
    words = safe(cue_words(c.cue), g)
    most = min(most, MOST_ROWS if c.state == "due" else COMING_ROWS)
    first, rest = _broken(words, room) if most > 1 else (words, "")
    lines = [f"{time}{house}  {first}"]
    if rest:
        lines += [" " * GOES_ON + line for line in wrap(rest, below, most - 1, g)]
    return [[(fit(line, width, g), style)] for line in lines]


def _broken(text: str, width: int) -> tuple[str, str]:
    """As many whole words as fit into ``width`` cells, and the rest."""
    if width_of(text) <= width:
        return text, ""
    words = text.split(" ")
    n = 0
    while n < len(words) and width_of(" ".join(words[: n + 1])) <= width:
        n += 1
    return " ".join(words[:n]), " ".join(words[n:])
