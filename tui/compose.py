"""The board put together from its parts, for pictures and tests; on the screen each part is a widget of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tui.draw.alarms import draw_alarms
from tui.draw.banner import draw_banner
from tui.draw.chart import Point
from tui.draw.cues import draw_cues
from tui.draw.line import draw_line
from tui.draw.onehouse import draw_loops_beside
from tui.draw.ribbon import draw_ribbon
from tui.draw.rows import draw_rows
from tui.draw.runs import Block, beside
from tui.draw.tile import draw_tile
from tui.draw.view import View
from tui.places import Places, places

ROOMY = 20
"""Rows below the ribbon from which on there is room for charts; they are there in every state of the show or in none."""
CHARTS = 11
CHART = 60


def board_places(view: View, width: int, height: int) -> Places:
    """Where everything of this show stands at this size."""
    houses = view.layout.houses
    return places(width, height, len(houses), max((len(h.house) for h in houses), default=1))


def draw_houses(view: View, at: Places, top: int = 0) -> Block:
    """All houses, as tiles or as a list; ``top``: the first house of the list that is shown."""
    if not at.tile_height:
        return draw_rows(view, at.width, at.houses, at.across, top)
    block: Block = []
    for first in range(0, len(view.layout.houses), at.across):
        tiles = range(first, min(first + at.across, len(view.layout.houses)))
        drawn = [(draw_tile(view, k, at.tile_width, at.tile_height), at.tile_width) for k in tiles]
        spare = at.width - at.tile_width * len(drawn)
        if spare:
            drawn.append(([], spare))
        block += beside(drawn, at.tile_height, view.g)
    return block


def charts_height(at: Places) -> int:
    """Rows for the picked house's loops below the alarms; 0 where there is no room."""
    roomy = at.cues_width and at.lower >= ROOMY and at.width - at.cues_width - 1 >= 2 * CHART
    return CHARTS if roomy else 0


def draw_lower(view: View, at: Places, drifts: Mapping[str, Sequence[Point]] | None = None) -> Block:
    """Alarms, and beside them the cues; below the alarms, where there is room for both, the picked house's loops."""
    if not at.cues_width:
        return draw_alarms(view, at.width, at.lower)
    alarms = at.width - at.cues_width - 1
    charts = charts_height(at) if drifts is not None else 0
    left = draw_alarms(view, alarms, at.lower - charts)
    if charts and drifts is not None:
        left += draw_loops_beside(view, drifts, alarms, charts)
    return beside(
        [(left, alarms), (draw_cues(view, at.cues_width, at.lower), at.cues_width)],
        at.lower, view.g, gap=1,
    )  # fmt: skip


def draw_board(view: View, width: int, height: int) -> Block:
    """The whole board but for the message and the keys at its foot."""
    at = board_places(view, width, height)
    rows = draw_banner(view, width)
    if at.line:
        rows += draw_line(view, width, at.depth)
    rows += draw_houses(view, at)
    if at.ribbon:
        rows += draw_ribbon(view, width, at.ribbon)
    return rows + draw_lower(view, at)
