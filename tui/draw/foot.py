"""The foot of the screen and the help, both made from the table of keys."""

from __future__ import annotations

from dataclasses import replace

from tui.draw.runs import Block, beside, block_fit, fit, row_fit, row_width, wrap
from tui.keys import KEYS, REVIEW_KEYS, RUNNING, WANTED, Key
from tui.look.glyphs import Glyphs

CAUTION = (
    "It watches and advises. It is no safety device and replaces no hard-wired stop.",
    "Where somebody can be hurt, local codes and licensed practice decide.",
)

TYPING = Key("letters", "", "filter, up down scroll, Esc: keys again", "", "", 0)
BOARD = "show('board')"


def shown_keys(rehearsal: bool, review: bool = False) -> list[Key]:
    """The keys that there are."""
    if review:
        return [k for k in REVIEW_KEYS if k.group]
    return [k for k in KEYS if rehearsal or not k.rehearsal]


def draw_keys(
    width: int,
    height: int,
    g: Glyphs,
    *,
    rehearsal: bool,
    screen: str,
    review: bool = False,
    phase: str = "running",
    typing: bool = False,
) -> Block:
    """The keys in ``height`` rows: the most wanted in this phase where not all fit, in the order of the table.

    ``typing``: letters go into a line of text, and are no keys.
    """
    keys = [k for k in shown_keys(rehearsal, review) if k.action != f"show('{screen}')"]
    if typing:
        keys = [TYPING, *(replace(k, keys=k.typed) for k in keys if k.typed)]
    ranks = {} if review else WANTED.get(phase, RUNNING)
    # From everywhere the way back is shown; where letters are typed, that a note has another key.
    ranks = {**ranks, BOARD: 0, **({"note": 0} if typing else {})}
    chosen: list[Key] = []
    for k in sorted(keys, key=lambda k: ranks.get(k.action, k.rank)):
        if _filled([*chosen, k], keys, width) <= height:
            chosen.append(k)
    rows: Block = [[]]
    for k in keys:
        if k in chosen:
            if row_width(rows[-1]) + _size(k) > width and len(rows) < height:
                rows.append([])
            rows[-1] += [(k.shown, "strong"), (f" {k.short}  ", "dim")]
    return block_fit(rows, width, height, g)


def _size(k: Key) -> int:
    return len(k.shown) + len(k.short) + 1


def _filled(chosen: list[Key], keys: list[Key], width: int) -> int:
    rows, used = 1, 0
    for k in keys:
        if k in chosen:
            if used and used + _size(k) > width:
                rows, used = rows + 1, 0
            used += _size(k) + 2
    return rows


def draw_help(
    width: int, height: int, g: Glyphs, *, rehearsal: bool, scroll: int = 0, review: bool = False
) -> Block:
    """The help from its row ``scroll`` on; there is no row beyond its last."""
    block = help_rows(width, g, rehearsal=rehearsal, review=review)
    block = block[max(0, min(scroll, len(block) - height)) :]
    rows = [row_fit(r, width, g) for r in block]
    if len(rows) > height > 0:
        rows = [*rows[: height - 1], [(fit("j k: further down, up", width, g), "strong")]]
    return block_fit(rows, width, height, g)


def help_rows(width: int, g: Glyphs, *, rehearsal: bool, review: bool = False) -> Block:
    """Every key by group, in two columns where there is room; then the glyphs."""
    groups: dict[str, list[Key]] = {}
    for k in shown_keys(rehearsal, review):
        groups.setdefault(k.group, []).append(k)
    across = 2 if width >= 200 else 1
    each = (width - 2 * (across - 1)) // across
    blocks: list[Block] = [[] for _ in range(across)]
    for name, keys in groups.items():
        block = min(blocks, key=len)
        block.append([(name, "plain-fill")])
        for k in keys:
            block += _help_rows(k, each, g)
    signs = _signs(g)
    lines = max(len(b) for b in blocks)
    block = beside([(b, each) for b in blocks], lines, g, gap=2)
    cautions: Block = [[(t, "text")] for t in CAUTION]
    return [*block, [], [("Signs", "plain-fill")], *signs, *cautions]


def _help_rows(k: Key, width: int, g: Glyphs) -> Block:
    names = " ".join(n.upper() if n[0] == "f" and n[1:].isdigit() else n for n in k.keys.split(","))
    first, *rest = wrap(k.long, max(10, width - 30), 4, g)
    rows: Block = [[(f" {names:<11}", "strong"), (f"{k.short:<16} ", "text"), (first, "dim")]]
    rows += [[(" " * 29, "text"), (line, "dim")] for line in rest]
    return [row_fit(row, width, g) for row in rows]


def _signs(g: Glyphs) -> Block:
    return [
        [
            (g.high, "high-mark"), (" high  ", "text"), (g.medium, "medium-mark"), (" medium  ", "text"),
            (g.low, "low-mark"), (" low  ", "text"), (f"{g.hollow} nobody has acknowledged it  ", "text"),
        ],
        [(f"{g.on} yes  {g.off} no  {g.unknown} not known  {g.apart} film apart  {g.pick} picked", "text")],
        [(f"{g.limit_left}{g.flat * 3}{g.middle}{g.point}{g.flat * 2}{g.limit_right} ", "text"),
         ("a loop: tight at the left end, spill at the right, the point is the drift between them", "text")],
    ]  # fmt: skip
