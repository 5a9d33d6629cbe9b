"""One house from close by: its tile, the loops on both its sides over the last minutes, its signals and where they come from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from interlock.watch.state import Line, LinkLayout
from tui.draw.chart import Point, draw_chart
from tui.draw.detail import adapter_of, adapter_state, rate_words
from tui.draw.folds import in_order
from tui.draw.log import concerns, draw_log, sentence
from tui.draw.loop import NAMED, gauge, left_words, loop_style, named_gauge
from tui.draw.runs import Block, Row, beside, block_fit, fit, row_fit, row_width, safe, wrap
from tui.draw.tile import draw_tile
from tui.draw.view import View, glyph_of, style_of, told_on_house
from tui.draw.words import deviation_s, early_late, show_time

SPAN_S = 600.0
NAMED_FROM = 84
"""Cells for a loop's chart from which on there is room for all that its heading can say."""
TILE = 30


def draw_one_house(
    view: View, drifts: Mapping[str, Sequence[Point]], width: int, height: int, log: Iterable[Line] = ()
) -> Block:
    """The picked house; ``log``: everything that happened, of which its own is shown."""
    g = view.g
    if not view.layout.houses:
        return block_fit([], width, height, g)
    k = min(view.house, len(view.layout.houses) - 1)
    side = min(TILE, width)
    tile_height = min(10, height)
    facts = _facts(view, k, side)
    if tile_height + 1 + len(facts) > height:
        facts = [row for row in facts if any(text.strip() for text, _ in row)]  # air goes first
    left = [
        *draw_tile(view, k, side, tile_height),
        *([[]] if tile_height + 1 + len(facts) <= height else []),
        *facts,
    ]
    right_width = max(0, width - side - 1)
    if right_width <= 20:
        return block_fit(left, width, height, g)
    below = max(4, height // 4) if height >= 16 else 0
    right = block_fit(_loops(view, drifts, k, right_width, height - below), right_width, height - below, g)
    if below:
        right += _events(view, k, log, right_width, below)
    return beside([(left, side), (right, right_width)], height, g, gap=1)


def _events(view: View, k: int, log: Iterable[Line], width: int, height: int) -> Block:
    """What happened in this house and beside it, newest last."""
    g = view.g
    lay = view.layout.houses[k]
    links = frozenset(view.layout.links[n].link for n in _sides(view, k))
    adapters = frozenset(adapter for _, adapter, _ in lay.signals)
    own = [line for line in log if concerns(line, lay.house, links, adapters)]
    heading: Row = [("what happened here", "dim")]
    if not own:
        return [heading, [("nothing yet", "text")]]
    if width >= 80:
        return [heading, *draw_log(view, own, width, min(len(own), height - 1))]
    rows: Block = []
    for line in reversed(own[-height:]):  # whole sentences only, from the newest back
        when = "before" if line.show_s is None else show_time(line.show_s, None, g.minus)
        first, *rest = wrap(safe(sentence(line, view.layout), g), max(8, width - 8), 2, g)
        if len(rows) + 1 + len(rest) > height - 1:
            break
        said: Block = [[(fit(when, 8, g), "dim"), (first, "text")]]
        for text in rest:
            said.append([(" " * 8, "dim"), (text, "text")])
        rows = [*said, *rows]
    return [heading, *rows]


def _facts(view: View, k: int, width: int) -> Block:
    g = view.g
    rows: Block = []
    if k < len(view.state.houses):
        line = view.state.houses[k]
        if line.frame is not None:  # of a house that is not known the tile says so
            sigma = "not known" if line.sigma_fr is None else f"{line.sigma_fr:.1f} frames"
            rows += [
                [("print frame  ", "dim"), (f"{line.frame:.1f}".replace("-", g.minus), "text")],
                [("1 sigma      ", "dim"), (sigma, "text")],
                [("against plan ", "dim"), (early_late(deviation_s(view.layout, line), "not known"), "text")],
                [],
            ]
        for a in in_order(view.state.alarms):
            if a.subject == line.house:
                rows.append([(f"{glyph_of(a, view)} {told_on_house(a)}", style_of(a))])
    signals = view.layout.houses[k].signals
    calm: Block = []
    for name in dict.fromkeys(a for _, a, _ in signals):
        adapter = adapter_of(view, name)
        if adapter is None:
            continue
        wrong = adapter.text or adapter.state in ("stale", "lost")
        said = f"adapter {safe(name, g)}: {adapter_state(adapter) if view.lost_s is None else 'not known'}"
        if adapter.text:
            said += f"; it says: {safe(adapter.text, g)}"
        # What is wrong stands before the inputs, where there is always room for it.
        (rows if wrong else calm).extend(
            [(text, "strong" if wrong else "text")] for text in wrap(said, width, 4, g)
        )
    rows.append([("signal: adapter, input" if signals else "nothing is wired to this house", "dim")])
    rows += [[(f"{safe(s, g)}: {safe(a, g)}, {safe(i, g)}", "text")] for s, a, i in signals]
    rows += calm
    return [row_fit(r, width, g) for r in rows]


def _loops(view: View, drifts: Mapping[str, Sequence[Point]], k: int, width: int, height: int) -> Block:
    g = view.g
    sides = _sides(view, k)
    if not sides:
        return [[("no loop beside this house", "dim")]]
    each = max(6, height // len(sides))
    rows: Block = []
    for n in sides:
        rows += _loop(view, drifts, n, "before it" if n == k - 1 else "behind it", width, each - 1)
        rows.append([(fit("", width, g), "text")])
    return rows[:height]


def draw_loops_beside(view: View, drifts: Mapping[str, Sequence[Point]], width: int, height: int) -> Block:
    """The loops on both sides of the picked house, beside each other, for a board that has the room."""
    g = view.g
    k = view.house
    each = (width - 2) // 2
    where = {k - 1: f"before house {_house(view, k)}", k: f"behind house {_house(view, k)}"}
    drawn = [(_loop(view, drifts, n, where[n], each, height - 1), each) for n in _sides(view, k)]
    if not drawn:
        return block_fit([], width, height, g)
    spare = width - sum(w for _, w in drawn) - 2 * (len(drawn) - 1)
    rows = beside([*drawn[:-1], (drawn[-1][0], drawn[-1][1] + spare)], height - 1, g, gap=2)
    return [[(fit("", width, g), "text")], *rows]


def _house(view: View, k: int) -> str:
    return safe(view.layout.houses[k].house, view.g) if 0 <= k < len(view.layout.houses) else ""


def _sides(view: View, k: int) -> list[int]:
    return [n for n in (k - 1, k) if 0 <= n < min(len(view.layout.links), len(view.state.links))]


def _unit(lay: LinkLayout, width: int, room: int) -> str:
    """The unit of the frames left, where neither they nor a word on their rate are cut for it."""
    if width >= NAMED_FROM:
        return " frames"
    room -= len(f" {max(lay.tight_fr, lay.spill_fr):.0f} to spill")
    rate, unit = len("  steady"), len(" fr")
    return " fr" if room >= unit + rate or unit <= room < rate else ""


def _loop(
    view: View, drifts: Mapping[str, Sequence[Point]], n: int, where: str, width: int, height: int
) -> Block:
    """One loop: its gauge and its words in one row, its chart below."""
    g = view.g
    lay, line = view.layout.links[n], view.state.links[n]
    row: Row = [
        (f"loop {safe(lay.link, g)}, {where}  ", "strong"),
        *(
            named_gauge(view, line, lay, NAMED)
            if width >= NAMED_FROM
            else gauge(view, line, lay, 21 if width >= 64 else 13)
        ),
    ]
    said = f"{'  ' if width >= NAMED_FROM else ' '}{left_words(line, unit=_unit(lay, width, width - row_width(row)))}"
    rate = rate_words(line.rate_fps)
    if row_width(row) + len(said) + len(rate) + 2 > width:
        rate = ""
    row += [(said, "text"), (f"  {rate}", "dim")]
    end = "last heard" if view.lost_s is not None else "then" if view.review else "now"
    chart = draw_chart(
        drifts.get(lay.link, ()), lay.tight_fr, lay.spill_fr, SPAN_S, width, height - 1, g, loop_style(view, lay.link), end
    )  # fmt: skip
    return [row_fit(row, width, g), *chart]
