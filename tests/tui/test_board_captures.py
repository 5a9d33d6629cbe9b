"""The board as text at three sizes in every moment, against captures that a person has read.

``LONGLACE_CAPTURE=1`` writes them anew: read the difference before it is committed. Below the text stand, for every row
that has one, the styles that call a person: H M L filled, h m l as a mark, # picked, = filled grey.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tui.draw.runs import Block, plain
from tui.example.moments import MOMENTS
from tui.example.show import layout
from tui.look.glyphs import ASCII, FULL, Glyphs
from tui.pictures import whole_board

CAPTURES = Path(__file__).parent / "captures"
MARKS = {
    "high": "H", "medium": "M", "low": "L", "high-mark": "h", "medium-mark": "m", "low-mark": "l", "pick": "#", "plain-fill": "=",
}  # fmt: skip
CASES = [
    *[
        (w, h, n, moment, "full")
        for w, h, n in ((80, 24, 16), (120, 30, 6), (200, 60, 16))
        for moment in MOMENTS
    ],
    (80, 24, 16, "flood", "ascii"),
    (120, 30, 6, "adapter-lost", "ascii"),
    (240, 60, 64, "one-alarm", "full"),
    (240, 60, 16, "well", "full"),
    (80, 24, 2, "start", "full"),
    (120, 30, 6, "desk-lost", "full"),
]


def styled(block: Block) -> str:
    lines = []
    for y, row in enumerate(block):
        marks = "".join(MARKS.get(style, " ") * len(text) for text, style in row).rstrip()
        if marks:
            lines.append(f"{y:2} {marks}")
    return "\n".join(lines)


@pytest.mark.parametrize(("width", "height", "houses", "moment", "glyphs"), CASES)
def test_the_board_looks_as_it_was_last_read(
    width: int, height: int, houses: int, moment: str, glyphs: str
) -> None:
    lay = layout(houses)
    g: Glyphs = ASCII if glyphs == "ascii" else FULL
    lost = 12.0 if moment == "desk-lost" else None
    state = MOMENTS["well" if lost else moment](lay)
    block = whole_board(lay, state, width, height, g, lost_s=lost)
    got = plain(block) + "\n\n" + styled(block) + "\n"
    got = "\n".join(line.rstrip() for line in got.split("\n"))
    path = CAPTURES / f"{width}x{height}-{houses}-{moment}{'-ascii' if g.ascii else ''}.txt"
    if os.environ.get("LONGLACE_CAPTURE"):
        path.write_text(got, encoding="utf-8")
    assert path.exists(), f"no capture {path.name}; LONGLACE_CAPTURE=1 writes it"
    assert got == path.read_text(encoding="utf-8")
