"""A widget that shows a block of rows and repaints only the cells that changed."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.events import Click
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from tui.draw.runs import Block, Row, width_of

_NEAR = 6
"""Changed spans closer than this are painted as one: moving the cursor costs about as many bytes."""


def changed_spans(old: Row, new: Row) -> list[tuple[int, int]]:
    """(first cell, cells) of what differs; the whole row where the runs do not stand at the same places."""
    if len(old) == len(new) and all(width_of(a[0]) == width_of(b[0]) for a, b in zip(old, new, strict=True)):
        spans: list[tuple[int, int]] = []
        x = 0
        for a, b in zip(old, new, strict=True):
            width = width_of(b[0])
            if a != b:
                if spans and x - sum(spans[-1]) < _NEAR:
                    spans[-1] = (spans[-1][0], x + width - spans[-1][0])
                else:
                    spans.append((x, width))
            x += width
        return spans
    return [(0, max(sum(width_of(t) for t, _ in old), sum(width_of(t) for t, _ in new)))]


class Canvas(Widget):
    """Shows what it is given with :meth:`paint`. What is equal to what is there already costs nothing more."""

    ALLOW_SELECT = False

    class Clicked(Message):
        """Somebody clicked on cell (x, y) of this canvas."""

        def __init__(self, canvas: Canvas, x: int, y: int) -> None:
            super().__init__()
            self.canvas = canvas
            self.x = x
            self.y = y

    def __init__(self, styles: dict[str, Style], *, id: str) -> None:  # noqa: A002 (the framework's own name)
        super().__init__(id=id, markup=False)
        self.auto_links = False
        self._named = styles
        self._rows: Block = []
        self._strips: list[Strip] = []
        self._blank = Strip([])
        self.cells_painted = 0
        """Cells handed to the terminal since the start, for the benchmark."""

    def paint(self, block: Block) -> None:
        """Show ``block``; only what differs from what is shown is sent to the terminal."""
        regions: list[Region] = []
        if len(block) != len(self._rows):
            self._rows = list(block)
            self._strips = [self._strip(row) for row in block]
            self.refresh()
            return
        for y, row in enumerate(block):
            if row == self._rows[y]:
                continue
            regions += [Region(x, y, width, 1) for x, width in changed_spans(self._rows[y], row)]
            self._rows[y] = row
            self._strips[y] = self._strip(row)
        if regions:
            self.cells_painted += sum(r.width for r in regions)
            self.refresh(*regions)

    def restyle(self, styles: dict[str, Style]) -> None:
        """Another look: everything again."""
        self._named = styles
        self._strips = [self._strip(row) for row in self._rows]
        self._blank = Strip([])
        self.refresh()

    @property
    def block(self) -> Block:
        """What is shown."""
        return self._rows

    def _strip(self, row: Row) -> Strip:
        named = self._named
        return Strip([Segment(text, named[style]) for text, style in row])

    def render_line(self, y: int) -> Strip:
        """One row, as the compositor asks for it."""
        if y < len(self._strips):
            return self._strips[y]
        width = self.size.width
        if self._blank.cell_length != width:
            self._blank = Strip([Segment(" " * width, self._named["text"])], width)
        return self._blank

    def on_click(self, event: Click) -> None:
        """The mouse works, nothing needs it."""
        self.post_message(self.Clicked(self, event.x, event.y))
