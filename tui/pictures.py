"""``python -m tui.pictures OUTDIR``: pictures of the screens, made by the program itself from invented states."""

from __future__ import annotations

import sys
from pathlib import Path

from interlock.watch.state import Layout, State
from tui.compose import draw_board
from tui.draw.foot import draw_keys
from tui.draw.runs import Block, block_fit
from tui.draw.view import make_view
from tui.example.moments import MOMENTS
from tui.example.show import layout
from tui.look.glyphs import FULL, Glyphs
from tui.look.palette import PALETTES
from tui.look.svg import svg
from tui.places import places

PICTURES = (
    # name, houses, moment, width, height, look, rehearsal
    ("board", 6, "flood", 120, 40, "booth", False),
    ("board-well", 6, "well", 120, 30, "booth", False),
    ("board-start", 6, "start", 120, 30, "booth", True),
    ("board-16-houses-80x24", 16, "one-alarm", 80, 24, "booth", False),
    ("board-16-houses-200x60", 16, "flood", 200, 60, "booth", False),
    ("board-adapter-lost", 6, "adapter-lost", 120, 30, "booth", False),
    ("board-light", 6, "one-alarm", 120, 30, "light", False),
)


def whole_board(
    lay: Layout,
    state: State,
    width: int,
    height: int,
    g: Glyphs = FULL,
    *,
    lost_s: float | None = None,
    picked: int = 0,
) -> Block:
    """Everything on the screen, the row for messages empty."""
    view = make_view(lay, state, g=g, age_s=state.age_s, house=picked, lost_s=lost_s)
    at = places(width, height, len(lay.houses), max((len(h.house) for h in lay.houses), default=1))
    body = block_fit(draw_board(view, width, height), width, height - at.message - at.keys, g)
    keys = draw_keys(width, at.keys, g, rehearsal=lay.rehearsal, screen="board")
    return [*body, *block_fit([], width, at.message, g), *keys]


def make(out: Path) -> list[Path]:
    """Every picture into the folder ``out``, made if it is not there; returns their paths."""
    out.mkdir(parents=True, exist_ok=True)
    made = []
    for name, houses, moment, width, height, look, rehearsal in PICTURES:
        lay = layout(houses, rehearsal=rehearsal)
        title = f"Longlace, the board with {houses} houses: {moment}"
        path = out / f"{name}.svg"
        path.write_text(
            svg(whole_board(lay, MOMENTS[moment](lay), width, height), PALETTES[look], title),
            encoding="utf-8",
        )
        made.append(path)
    return made


def main() -> int:
    """The command."""
    if len(sys.argv) != 2:
        sys.stderr.write("usage: python -m tui.pictures OUTDIR\n")
        return 2
    for path in make(Path(sys.argv[1])):
        sys.stdout.write(f"{path}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
