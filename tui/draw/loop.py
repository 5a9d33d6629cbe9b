"""One link: its gauge, its number, and the loop itself, flat when tight, deeper as it fills."""

from __future__ import annotations

from interlock.watch.state import LinkLayout, LinkLine
from tui.draw.runs import Block, Row, cut, fit, row_fit
from tui.draw.view import View, mark_of
from tui.look.palette import StyleName

TIGHT, SPILL = "tight ", " spill"
"""What stands at the two ends of a gauge where there is room for it."""
NAMED = 33
"""Cells for a gauge from which on its ends are named."""
_SAID = {"parted": "PARTED", "released": "released"}


def loop_style(view: View, link: str) -> StyleName:
    """The style of the point: that of the worst alarm on this link, grey without one."""
    alarm = view.loop_alarm(link)
    return "strong" if alarm is None else mark_of(alarm)


def gauge(view: View, line: LinkLine, lay: LinkLayout, width: int) -> Row:
    """``├─────┼──●──┤``: tight at the left, spill at the right, the drift as the point; broken where not known."""
    g = view.g
    width -= 1 - width % 2
    if width < 3:
        return row_fit([], width, g)
    half = width // 2
    if line.state == "released":
        return [(fit("", width, g), "dim")]
    if line.state == "parted":
        arm = g.broken * (half - 1)
        return [(f"{g.limit_left}{arm}", "dim"), (g.apart, "high-mark"), (f"{arm}{g.limit_right}", "dim")]
    if line.drift_fr is None:
        arm = g.broken * (half - 1)
        return [(f"{g.limit_left}{arm}", "dim"), (g.unknown, "strong"), (f"{arm}{g.limit_right}", "dim")]
    cells = [g.limit_left, *[g.flat] * (width - 2), g.limit_right]
    cells[half] = g.middle
    at = half + _steps(line.drift_fr, lay, half)
    return [
        ("".join(cells[:at]), "dim"),
        (g.point, loop_style(view, line.link)),
        ("".join(cells[at + 1 :]), "dim"),
    ]


def named_gauge(view: View, line: LinkLine, lay: LinkLayout, width: int) -> Row:
    """The gauge with its two ends named: ``tight ├─────┼──●──┤ spill``."""
    if line.state == "released":
        return gauge(view, line, lay, width)
    scale = width - len(TIGHT) - len(SPILL)
    return [(TIGHT, "dim"), *gauge(view, line, lay, scale), (SPILL, "dim")]


def _share(drift_fr: float, lay: LinkLayout) -> float:
    """−1 at tight, 0 at rest, +1 at spill."""
    limit = lay.spill_fr if drift_fr > 0 else lay.tight_fr
    return max(-1.0, min(1.0, drift_fr / limit)) if limit > 0 else 0.0


def _steps(drift_fr: float, lay: LinkLayout, half: int) -> int:
    return round(_share(drift_fr, lay) * half)


def left_words(line: LinkLine, *, short: bool = False, shorter: bool = False, unit: str = "") -> str:
    """``41 frames to spill``, ``41 to spill``, ``41 spill``, ``41 left``; what is said instead where there is no number."""
    if line.state in _SAID:
        return _SAID[line.state]
    if line.left_fr is None or line.toward is None:
        return "unknown" if shorter else "not known"
    if line.left_fr <= 0:
        pulled = "TIGHT" if short else "PULLED TIGHT"
        return pulled if line.toward == "tight" else "SPILLS"
    left = min(int(line.left_fr), 99999)
    if shorter or (line.drift_fr is not None and abs(line.drift_fr) < 0.5):  # at rest it goes neither way
        return f"{left}{unit} left"
    return f"{left} {line.toward}" if short else f"{left}{unit} to {line.toward}"


def _unit(view: View, width: int) -> str:
    """The unit of the frames left, as far as there is room for it on every link of the show, so that all are said alike."""
    most = max((max(x.tight_fr, x.spill_fr) for x in view.layout.links), default=0.0)
    room = width - len(f"{min(most, 99999):.0f}") - len(" to spill") - 1
    return next((unit for unit in (" frames", " fr") if len(unit) <= room), "")


def left_row(view: View, line: LinkLine, width: int) -> Row:
    """The frames left, in the style of the worst alarm on the link, with its glyph."""
    g = view.g
    text = left_words(line, short=width < 13, shorter=width < 9, unit=_unit(view, width))
    alarm = view.loop_alarm(line.link)
    if alarm is not None:
        glyph = {"high": g.high, "medium": g.medium, "low": g.low}[alarm.priority]
        return [(fit(f"{glyph}{text}", width, g), mark_of(alarm))]
    if line.state == "parted":
        return [(fit(f"{g.apart}{text}", width, g), "high-mark")]
    known = line.left_fr is not None and line.state not in _SAID
    return [(fit(text, width, g), "text" if known else "dim")]


def gauge_row(view: View, k: int, width: int) -> Row:
    """Gauge and number of the link behind house ``k``, in one row of ``width`` cells."""
    g = view.g
    line = view.loop_after(k)
    if line is None or k >= len(view.layout.links):
        end = f"{g.arrow} take-up" if view.layout.take_up else "last"
        return row_fit([(cut(end, width, g), "dim")], width, g)
    lay = view.layout.links[k]
    words = min(13 if width >= 26 else 9, width)
    scale = width - words - 1
    if scale < 5:
        return left_row(view, line, width)
    drawn = gauge(view, line, lay, scale)
    return row_fit([*drawn, (" ", "text"), *left_row(view, line, words)], width, g)


def hanging(view: View, k: int, width: int, height: int) -> Block:
    """The film between two gates as a loop, ``height`` rows deep at spill; the first row is the height of the gates."""
    g = view.g
    line, lay = view.state.links[k], view.layout.links[k]
    blank: Row = [(" " * width, "text")]
    if line.state == "released":
        return [list(blank) for _ in range(height)]  # no film is there any more; the word stands below
    if line.state == "parted":
        arm = max(0, (width - 1) // 2)
        row: Row = [
            (g.flat * (arm - 1) + " " if arm else "", "text"),
            (g.apart, "high-mark"),
            (" " + g.flat * (width - arm - 2) if width > arm + 1 else "", "text"),
        ]
        return [row_fit(row, width, g), *[list(blank) for _ in range(height - 1)]]
    if line.drift_fr is None:
        arm = (width - 1) // 2
        broken: Row = [(g.broken * arm, "dim"), (g.unknown, "strong"), (g.broken * (width - arm - 1), "dim")]
        return [row_fit(broken, width, g), *[list(blank) for _ in range(height - 1)]]
    share = _share(line.drift_fr, lay)
    deep = height - 1
    depth = max(0, min(deep, round((1 + share) / 2 * deep)))
    style: StyleName = "text" if view.loop_alarm(line.link) is None else loop_style(view, line.link)
    if depth == 0 or width < 5:
        return [[(g.flat * width, style)], *[list(blank) for _ in range(height - 1)]]
    # The mouth of the loop narrows a little as it is pulled flat: what hangs is film.
    lead = max(0, (width - 2) // 5)
    inner = width - 2 * lead - 2
    rows: Block = [
        [(g.flat * lead + g.turn_down, style), (" " * inner, "text"), (g.turn_up + g.flat * lead, style)]
    ]
    rows += [
        [(" " * lead + g.side, style), (" " * inner, "text"), (g.side + " " * lead, style)]
        for _ in range(depth - 1)
    ]
    rows.append([(" " * lead + g.turn_right + g.flat * inner + g.turn_left + " " * lead, style)])
    return [row_fit(r, width, g) for r in rows] + [list(blank) for _ in range(height - len(rows))]
