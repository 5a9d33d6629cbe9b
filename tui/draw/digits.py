"""A house's number, large enough for four metres."""

from __future__ import annotations

from tui.look.glyphs import Glyphs

# Each character on 3 × 5 points: five octal digits, top to bottom, a bit a point.
_FONT = {
    "0": "75557", "1": "26227", "2": "71747", "3": "71717", "4": "55711", "5": "74717", "6": "74757", "7": "71122",
    "8": "75757", "9": "75717", "A": "25755", "B": "65656", "C": "34443", "D": "65556", "E": "74647", "F": "74644",
    "G": "34553", "H": "55755", "I": "72227", "J": "11152", "K": "55655", "L": "44447", "M": "57755", "N": "65555",
    "O": "25552", "P": "65644", "Q": "25563", "R": "65655", "S": "34216", "T": "72222", "U": "55557", "V": "55552",
    "W": "55775", "X": "55255", "Y": "55222", "Z": "71247", "-": "00700", "_": "00007",
}  # fmt: skip
SIZES = ((12, 10), (6, 5), (3, 3))
"""(cells, rows) of one character in each size, largest first; one third of the cells as much again between two."""


def size_for(text: str, width: int, height: int, g: Glyphs) -> tuple[int, int] | None:
    """The largest size in which ``text`` fits; None if it is to be written as it is."""
    for cells, rows in SIZES:
        if g.ascii and cells == 3:
            return None  # the small size needs half blocks
        gap = cells // 3
        if rows <= height and len(text) * (cells + gap) - gap <= width:
            return cells, rows
    return None


def large(text: str, size: tuple[int, int], g: Glyphs) -> list[str]:
    """``text`` drawn in ``size``, a string a row."""
    cells, rows = size
    gap = " " * (cells // 3)
    glyphs = [_points(char) for char in text.upper()]
    if cells == 3:
        return [
            gap.join(_halves(p[y * 2], p[y * 2 + 1] if y < 2 else 0) for p in glyphs) for y in range(rows)
        ]
    full = "#" if g.ascii else "█"
    wide, tall = cells // 3, rows // 5
    return [
        gap.join("".join((full if p[y // tall] & bit else " ") * wide for bit in (4, 2, 1)) for p in glyphs)
        for y in range(rows)
    ]


def _points(char: str) -> list[int]:
    return [int(octal) for octal in _FONT.get(char, "00000")]


def _halves(upper: int, lower: int) -> str:
    return "".join(" ▀▄█"[bool(upper & bit) + 2 * bool(lower & bit)] for bit in (4, 2, 1))
