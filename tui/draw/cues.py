"""Cues: what a person must do next, over all houses, in the order of time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TypeAlias

from interlock.watch.state import CueLine
from tui.draw.runs import Block, Row, block_fit, fit, row_fit, safe
from tui.draw.view import View
from tui.draw.words import countdown, cue_words, duration
from tui.look.palette import StyleName

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
    rows: list[tuple[Row, CueKey | None]] = [
        (_cue(view, c, width, False), key) for key, c in still(view.state.cues)
    ]
    if not rows:
        return [([(f"{g.dot} no cues near", "dim")], None)]
    if len(rows) > height > 1:
        rest = len(rows) - height + 1
        rows = [*rows[: height - 1], ([(f"{g.fold} {rest} more: F5 shows them all", "dim")], None)]
    return rows


def sheet_rows(view: View, width: int, height: int, picked: CueKey | None) -> list[tuple[Row, CueKey | None]]:
    """The rows of the cue sheet, each with its cue."""
    g = view.g
    if view.lost_s is not None:
        return cue_rows(view, width, height)
    cues = still(view.state.cues)
    if not cues:
        return cue_rows(view, width, height)
    when = "after start" if view.state.show_s is None else "in"
    house = max(7, _house_width(view) + 2)
    heading: Row = [(f"{fit(when, 11, g, right=True)}  {fit('house', house, g)}what to do", "dim")]
    room = max(1, height - 1)
    at = next((n for n, (key, _) in enumerate(cues) if key == picked), 0)
    rows: list[tuple[Row, CueKey | None]] = [(heading, None)]
    if len(cues) <= room:
        shown, rest = cues, 0
    else:
        room = max(1, room - 1)
        first = max(0, min(at - room // 2, len(cues) - room))
        shown, rest = cues[first : first + room], len(cues) - first - room
    rows += [(_cue(view, c, width, key == picked, house), key) for key, c in shown]
    if len(cues) > len(shown):
        words = f"{g.fold} {rest} more below" if rest else f"{g.fold} the last of {len(cues)}"
        rows.append(([(f"{words}; j k move, and pick the cue's house", "dim")], None))
    return rows


def _house_width(view: View) -> int:
    return max((len(h.house) for h in view.layout.houses), default=1)


def _cue(view: View, c: CueLine, width: int, picked: bool, sheet: int = 0) -> Row:
    """``sheet``: cells of the house on the cue sheet, 0 on a board."""
    g = view.g
    style: StyleName = "text"
    mark = " "
    when = g.unknown
    if c.due_s is not None and view.state.show_s is None:
        when = "+" + duration(c.due_s)
    elif c.due_s is not None and view.state.show_s is not None:
        when = countdown(c.due_s - view.state.show_s)
    if c.state == "due":
        style, mark, when = "strong", g.pick, "NOW"
    elif c.state == "missed":
        style, mark = "medium-mark", g.medium
        when = (
            "missed"
            if view.state.show_s is None or c.due_s is None
            else f"-{duration(view.state.show_s - c.due_s)}"
        )
    if sheet:
        words = f"{fit(when, 9, g, right=True)}  {fit(safe(c.house, g), sheet, g)}{safe(cue_words(c.cue), g)}"
        own: Row = [
            (g.pick if picked else " ", "strong"),
            (f"{g.medium if c.state == 'missed' else ' '}", style),
        ]
        return row_fit([*own, (words, "pick" if picked else style)], width, g)
    house = fit(f"house {safe(c.house, g)}", _house_width(view) + 6, g)
    text = f"{mark} {fit(when, 7, g, right=True)}  {house}  {safe(cue_words(c.cue), g)}"
    return [(fit(text, width, g), style)]
