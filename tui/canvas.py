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


def changed_span(old: Row, new: Row) -> tuple[int, int] | None:
    """(first cell, cells) from the first to the last cell that differs, by whole runs; None where nothing does.

    One span a row: the compositor writes a widget's row from its left edge to the end of each span, so that two
    spans would cost the first one twice.
    """
    if len(old) != len(new) or any(width_of(a[0]) != width_of(b[0]) for a, b in zip(old, new, strict=True)):
        return (0, max(sum(width_of(t) for t, _ in old), sum(width_of(t) for t, _ in new)))
    first, last, x = -1, 0, 0
    for a, b in zip(old, new, strict=True):
        width = width_of(b[0])
        if a != b:
            first = x if first < 0 else first
            last = x + width
        x += width
    return None if first < 0 else (first, last - first)


def joined(row: Row) -> Row:
    """The row with neighbours of one style made one run; blanks join whatever is before them on the plain ground.

    Every run costs some forty bytes of colour on the wire; a row of sixteen columns has as many blanks as columns.
    """
    kept: Row = []
    for text, style in row:
        if kept and (
            kept[-1][1] == style or (not text.strip(" ") and kept[-1][1] in _PLAIN and style in _PLAIN)
        ):
            kept[-1] = (kept[-1][0] + text, kept[-1][1])
        else:
            kept.append((text, style))
    return kept


_PLAIN = frozenset({"text", "dim", "strong"})


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
            span = changed_span(self._rows[y], row)
            if span is not None:
                regions.append(Region(span[0], y, span[1], 1))
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
        return Strip([Segment(text, named[style]) for text, style in joined(row)])

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
