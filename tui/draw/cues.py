"""Cues: what a person must do next, over all houses, in the order of time."""

from __future__ import annotations

from interlock.watch.state import CueLine
from tui.draw.runs import Block, Row, block_fit, fit, safe
from tui.draw.view import View
from tui.draw.words import countdown, cue_words, duration
from tui.look.palette import StyleName


def draw_cues(view: View, width: int, height: int) -> Block:
    """One cue a row with its countdown; due ones strong, missed ones marked."""
    g = view.g
    if view.lost_s is not None:
        return block_fit([[("cues not known", "dim")]], width, height, g)
    rows: Block = [_cue(view, c, width) for c in view.state.cues if c.state != "done"]
    if not rows:
        rows = [[(f"{g.dot} no cues near", "dim")]]
    if len(rows) > height > 1:
        rest = len(rows) - height + 1
        rows = [*rows[: height - 1], [(f"{g.fold} {rest} more: F5 shows them all", "dim")]]
    return block_fit(rows, width, height, g)


def _cue(view: View, c: CueLine, width: int) -> Row:
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
    house = f"house {safe(c.house, g)}"
    longest = max((len(h.house) for h in view.layout.houses), default=1) + 6
    text = f"{mark} {fit(when, 7, g, right=True)}  {fit(house, longest, g)}  {safe(cue_words(c.cue), g)}"
    return [(fit(text, width, g), style)]
