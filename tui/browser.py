"""The board as a document for a browser: rows of (text, style) by the same drawing functions as the terminal's.

It is data, never HTML: the page puts every text in as text and knows the styles by name.
"""

from __future__ import annotations

from dataclasses import replace

import msgspec

from interlock.watch.state import HouseLine
from tui.draw.alarms import draw_alarms
from tui.draw.banner import draw_banner
from tui.draw.cues import draw_cues
from tui.draw.house import SIGNALS, gate_text, next_words, plan_run, signal_run, speed_text
from tui.draw.loop import gauge, left_row
from tui.draw.ribbon import HEIGHT as RIBBON
from tui.draw.ribbon import draw_ribbon
from tui.draw.runs import Block, Row, row_fit, safe
from tui.draw.view import View, glyph_of, mark_of, style_of, told_on_house
from tui.look.palette import StyleName

BANNER = 112
"""Cells of the banner; the page makes its letters as large as the window allows."""
NARROW = 46
"""The same for a window as narrow as a telephone."""
TILE = 34
SIDE = 84
MOST_ALARMS = 60
MOST_CUES = 24


class HouseTile(msgspec.Struct, frozen=True):
    """``edge``: style of its border, by its worst alarm. ``loop``: the link to the next house."""

    house: str
    name: str
    booth: str
    edge: StyleName
    rows: Block
    loop: Block


class BoardDocument(msgspec.Struct, frozen=True):
    """Everything on the page. ``known``: false if the desk is not heard; ``narrow``: the banner for a narrow window."""

    title: str
    known: bool
    banner: Block
    narrow: Block
    houses: tuple[HouseTile, ...]
    ribbon: Block
    alarms: Block
    cues: Block


def board_document(view: View) -> BoardDocument:
    """The board of ``view``. Nothing is picked on it, and nothing blinks: somebody else acts."""
    view = replace(view, alarm=None, hollow=False, house=-1, keys=False)
    g = view.g
    return BoardDocument(
        title=safe(view.layout.title, g),
        known=view.lost_s is None,
        banner=_tight(draw_banner(view, BANNER), keep=True),
        narrow=_tight(draw_banner(view, NARROW), keep=True),
        houses=tuple(_tile(view, k, line) for k, line in enumerate(view.state.houses)),
        ribbon=_tight(draw_ribbon(view, BANNER, RIBBON), keep=True),
        alarms=_tight(draw_alarms(view, SIDE, MOST_ALARMS)),
        cues=_tight(draw_cues(view, SIDE // 2, MOST_CUES)),
    )


def _tile(view: View, k: int, line: HouseLine) -> HouseTile:
    g = view.g
    lay = view.layout.houses[k]
    alarm = view.house_alarm(line.house)
    rows: Block = []
    if alarm is not None:
        rows.append([(f"{glyph_of(alarm, view)} {told_on_house(alarm)}", style_of(alarm))])
    signs: Row = []
    for name, *_ in SIGNALS:
        signs += [*signal_run(view, line, name, 6), (" ", "text")]
    rows.append(signs)
    rows.append([(gate_text(view, line, TILE), "strong")])
    rows.append([*plan_run(view, line, 14), (" ", "text"), (speed_text(line), "dim")])
    rows.append(next_words(view, line.house, TILE, short=False))
    link = view.loop_after(k)
    loop: Block = []
    if link is not None and k < len(view.layout.links):
        name = safe(view.layout.links[k].link, g)
        loop = [
            [(f"loop {name}", "dim")],
            [*gauge(view, link, view.layout.links[k], 17), (" ", "text"), *left_row(view, link, 15)],
        ]
    return HouseTile(
        safe(lay.house, g), safe(lay.name, g), safe(lay.booth, g), "dim" if alarm is None else mark_of(alarm),
        _tight([row_fit(r, TILE, g) for r in rows], keep=True), _tight(loop, keep=True),
    )  # fmt: skip


def _tight(block: Block, *, keep: bool = False) -> Block:
    """The rows without blanks at their right ends; empty rows at the end go, unless they are to keep the place."""
    rows: Block = []
    for row in block:
        kept = list(row)
        while kept and not kept[-1][0].rstrip(" "):
            kept.pop()
        if kept and kept[-1][1] in ("text", "dim", "strong"):
            kept[-1] = (kept[-1][0].rstrip(" "), kept[-1][1])
        rows.append(kept)
    while rows and not keep and not rows[-1]:
        rows.pop()
    return rows
