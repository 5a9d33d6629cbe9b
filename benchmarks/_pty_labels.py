"""The peer of the screen: the same board composed of labels. ``python -m benchmarks._pty_labels SHOW`` on a running desk.

The same frames from the same desk, drawn by the same functions into the same text. But each row of a tile, each cell of a
list and each row of everything else is a ``Label``, updated four times a second where its text is another than before.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from rich.text import Text
from textual import work
from textual.app import App, ComposeResult
from textual.containers import Container, Horizontal, Vertical
from textual.widgets import Label

from interlock.clock import SystemClock
from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from tui.compose import board_places, draw_lower
from tui.draw.banner import draw_banner
from tui.draw.line import draw_line
from tui.draw.ribbon import draw_ribbon
from tui.draw.rows import columns, heading, house_row, id_width
from tui.draw.runs import Block, Row, row_width
from tui.draw.tile import draw_tile
from tui.draw.view import View, make_view
from tui.look.glyphs import FULL
from tui.look.palette import PALETTES
from tui.model import Model

TICK_S = 0.25
GAP = 2


class Labels(App[None]):
    """The board, of labels."""

    ENABLE_COMMAND_PALETTE = False
    AUTO_FOCUS = None
    CSS = """
    Screen { background: #101010; color: #B0B0B0; layout: vertical; }
    Label { height: 1; width: auto; }
    Vertical, Horizontal, Container { height: auto; width: auto; }
    """

    def __init__(self, source: DeskConnection) -> None:
        super().__init__()
        self.source = source
        self.clock = SystemClock()
        self.model = Model(heard_s=self.clock.now_s())
        self.styles_of = PALETTES["booth"].styles(colour=True)
        self.labels: list[Label] = []
        self.shown: list[Row] = []

    def compose(self) -> ComposeResult:
        yield Container(id="board")

    def on_mount(self) -> None:
        self.set_interval(TICK_S, self.tick)
        self.listen()

    @work(exclusive=True)
    async def listen(self) -> None:
        async for frame in self.source.frames():
            self.model.take(frame, self.clock.now_s())

    async def tick(self) -> None:
        state, layout = self.model.newest(), self.model.layout
        if state is None or layout is None or not self.size.width:
            return
        now_s = self.clock.now_s()
        age_s = self.model.age_s(now_s)
        view = make_view(layout, state, g=FULL, hollow=now_s % 1.0 >= 0.5, age_s=age_s)
        rows = [row for group in self.groups(view) for block in group for row in block]
        if not self.labels:
            await self.build(view)
        for n, row in enumerate(rows):
            if row != self.shown[n]:
                self.shown[n] = row
                self.labels[n].update(self.text(row))

    def groups(self, view: View) -> Iterator[list[Block]]:
        """What stands side by side, from top to bottom: blocks of rows, each row a label."""
        width, height = self.size.width, self.size.height
        at = board_places(view, width, height)
        houses = len(view.layout.houses)
        yield [draw_banner(view, width)]
        if at.line:
            yield [draw_line(view, width, at.depth)]
        if at.tile_height:
            for first in range(0, houses, at.across):
                tiles = range(first, min(first + at.across, houses))
                yield [draw_tile(view, k, at.tile_width, at.tile_height) for k in tiles]
        else:
            each = (width - GAP * (at.across - 1)) // at.across
            lines = max(1, at.houses - 1)
            yield [[heading(view, each)] for _ in range(at.across)]
            for y in range(lines):
                shown = list(range(y, houses, lines))[: at.across]
                yield [[cell] for k in shown for cell in cells(view, k, each)]
        if at.ribbon:
            yield [draw_ribbon(view, width, at.ribbon)]
        yield [draw_lower(view, at, self.model.drifts)]

    async def build(self, view: View) -> None:
        """Every label in its place."""
        board = self.query_one("#board")
        for group in self.groups(view):
            blocks = []
            for block in group:
                labels = [Label(self.text(row), markup=False) for row in block]
                for label, row in zip(labels, block, strict=True):
                    label.styles.width = row_width(row)
                self.labels += labels
                self.shown += block
                blocks.append(Vertical(*labels) if len(labels) != 1 else labels[0])
            await board.mount(Horizontal(*blocks) if len(blocks) != 1 else blocks[0])

    def text(self, row: Row) -> Text:
        return Text.assemble(*[(text, self.styles_of[style]) for text, style in row])


def cells(view: View, k: int, width: int) -> list[Row]:
    """A house's row of the list, cut into its columns: what names it, and the rest with the gap before each."""
    widths = [id_width(view), *[w + 1 for _, w in columns(max(0, width - id_width(view) - 1))]]
    row, found = list(house_row(view, k, width)), []
    for wanted in widths:
        cell: Row = []
        while row and row_width(cell) < wanted:
            cell.append(row.pop(0))
        found.append(cell)
    if row:
        found[-1] += row
    return found


if __name__ == "__main__":
    Labels(DeskConnection(Place(sys.argv[1], rehearsal=True))).run()
