"""The time line of a review: where one is in the record, how fast it runs, and where the alarms came."""

from __future__ import annotations

from collections.abc import Sequence

from tui.draw.runs import Row, fit, row_fit, width_of
from tui.draw.words import duration
from tui.look.glyphs import Glyphs
from tui.look.palette import StyleName
from tui.recording import AlarmMark

_URGENCY = {"high": 0, "medium": 1, "low": 2}
_MARKS: dict[str, StyleName] = {"high": "high-mark", "medium": "medium-mark", "low": "low-mark"}


def _ends(t_s: float, length_s: float, speed: float, playing: bool) -> tuple[str, str]:
    word = f"play x{speed:g}" if playing else f"pause x{speed:g}"
    long = duration(length_s)
    return f"{word:<11} {duration(t_s):>{len(long)}} ", f" {long}"


def bar_of(width: int, length_s: float) -> tuple[int, int]:
    """(first cell, cells) of the line itself between its two ends, for the mouse."""
    left, right = _ends(0.0, length_s, 1.0, False)
    return len(left), max(0, width - len(left) - len(right))


def time_at(x: int, width: int, length_s: float) -> float | None:
    """The moment under cell ``x``; None where there is no line."""
    first, cells = bar_of(width, length_s)
    if cells < 2 or not first <= x < first + cells:
        return None
    return length_s * (x - first) / (cells - 1)


def draw_timeline(
    t_s: float, length_s: float, alarms: Sequence[AlarmMark], speed: float, playing: bool, width: int, g: Glyphs
) -> Row:  # fmt: skip
    """One row: play or pause and the speed, time in the record, the line with its alarms, its length."""
    left, right = _ends(t_s, length_s, speed, playing)
    first, cells = bar_of(width, length_s)
    if cells < 4:
        return [(fit(left.rstrip() + right, width, g), "strong")]
    row: list[tuple[str, StyleName]] = [(g.flat, "dim")] * cells
    row[0], row[-1] = (g.limit_left, "dim"), (g.limit_right, "dim")

    def cell(s: float) -> int:
        return round((cells - 1) * max(0.0, min(1.0, s / length_s))) if length_s > 0 else 0

    # The worst last, so that it is the one that is seen where several came in one cell.
    for a in sorted(alarms, key=lambda a: -_URGENCY.get(a.priority, 2)):
        glyph = {"high": g.high, "medium": g.medium}.get(a.priority, g.low)
        row[cell(a.t_s)] = (glyph, _MARKS.get(a.priority, "low-mark"))
    row[cell(t_s)] = (g.point, "pick")
    return row_fit([(left, "strong"), *row, (right, "dim")], width, g) if width_of(left) == first else row
