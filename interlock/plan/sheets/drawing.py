"""The path as a picture: the film as one line through the houses, with what is met on the way.

Black on white, told apart by shape, line and word. The film runs to and fro like a lace, so that any number of houses
stays readable; stretches are numbered brackets under it.
"""

from __future__ import annotations

from html import escape

import msgspec

from interlock.plan.cautions import hazards_of
from interlock.plan.sheets.document import PAGE_MM
from interlock.plan.threading import Threading
from interlock.plan.threading_pull import all_links, roller_places
from interlock.showfile.show import Link, Show

_PITCH, _ROW, _MARGIN = 210.0, 118.0, 58.0
_FONT = 'font-family="Helvetica, Arial, Liberation Sans, DejaVu Sans, sans-serif"'


class _Place(msgspec.Struct, frozen=True):
    x: float
    y: float
    right: bool  # the film runs to the right in this row


def page_share(show: Show) -> float:
    """How much of a page's height the drawing takes at the page's full width; a third at most."""
    width, height = _size(len(all_links(show)) + 1)
    return min(0.33, 190.0 * height / width / PAGE_MM)


def _size(stops: int) -> tuple[float, float]:
    across = _across(stops)
    return _MARGIN * 2 + _PITCH * (across - 1) + 20, _ROW * -(-stops // across) - 8


def path_svg(show: Show, threading: Threading) -> str:
    """The drawing, complete in itself."""
    links = all_links(show)
    names = [links[0].upstream, *(link.downstream for link in links)]
    across = _across(len(names))
    places = [_place(i, across) for i in range(len(names))]
    width, height = _size(len(names))
    booths = {house.id: house.booth for house in show.houses}
    drawn = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" {_FONT} font-size="12" '
            'fill="none" stroke="#000">'
        ),
        f"<title>{escape(show.title)}: the path of the film</title>",
    ]
    for link, a, b in zip(links, places, places[1:], strict=False):
        drawn += _link(show, link, a, b)
    drawn += _stretches(threading, links, places)
    drawn += [line for name, place in zip(names, places, strict=True) for line in _stop(name, place, booths)]
    return "\n".join([*drawn, "</svg>"])


def _across(stops: int) -> int:
    return min(stops, 6 if stops > 8 else 4)


def _place(i: int, across: int) -> _Place:
    row, column = divmod(i, across)
    right = row % 2 == 0
    x = _MARGIN + 10 + _PITCH * (column if right else across - 1 - column)
    return _Place(x, 46 + _ROW * row, right)


def _stop(name: str, at: _Place, booths: dict[str, str]) -> list[str]:
    x, y = at.x, at.y
    if name not in booths:
        return [
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="20" fill="#fff" stroke-width="2"/>',
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="#000"/>',
            _words(x, y + 36, name, "middle", size=13),
        ]
    booth = booths[name]
    size = (18 if booth else 20) if len(name) <= 4 else 12
    short = booth if len(booth) <= 9 else booth[:8] + "…"
    return [
        f'<rect x="{x - 26:.1f}" y="{y - 20:.1f}" width="52" height="40" fill="#fff" stroke-width="2.5"/>',
        _words(x, y + (2 if booth else size * 0.35), name, "middle", size=size, weight="bold"),
        *([_words(x, y + 15, short, "middle", size=10)] if booth else []),
    ]


def _words(x: float, y: float, text: str, anchor: str, *, size: float = 12, weight: str = "normal") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size:g}" font-weight="{weight}" '
        f'fill="#000" stroke="none">{escape(text)}</text>'
    )


def _link(show: Show, link: Link, a: _Place, b: _Place) -> list[str]:
    """The line, its rollers (filled: stuck), tables, hazards, and how long it is."""
    feet = show.film.tape_ft_from_frames(link.path_fr)
    drawn = [f'<path d="M{a.x:.1f} {a.y:.1f} L{b.x:.1f} {b.y:.1f}" stroke-width="2"/>']

    def at(fr: float) -> tuple[float, float]:
        return _point(link, a, b, fr)

    for roller, fr in zip(link.rollers, roller_places(link), strict=True):
        x, y = at(fr)
        fill = "#000" if roller.stuck else "#fff"
        drawn.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{fill}"/>')
    for fr in link.tables_fr:
        x, y = at(fr)
        drawn.append(
            f'<rect x="{x - 6:.1f}" y="{y - 6:.1f}" width="12" height="12" fill="#fff" stroke-width="2.5"/>'
        )
        drawn.append(_words(x, y + 4, "T", "middle", size=10, weight="bold"))
    x, y = (a.x + b.x) / 2, (a.y + b.y) / 2
    facts = f"{feet:.0f} ft, {len(link.rollers)} r" + (", wired" if link.wired else "")
    marks = [h.what if h.kind == "crossing" else "high" for h in hazards_of(show, link)]
    text = f"▲ {', '.join(marks)}" if marks else ""
    if a.y == b.y:
        text = text if len(text) <= 24 else text[:23] + "…"
        return [
            *drawn,
            _words(x, y - 26, facts, "middle"),
            _words(x, y - 11, text, "middle", size=11, weight="bold"),
        ]
    # Down the edge of the drawing: the words stand on its inner side.
    x, side = (x - 18, "end") if a.right else (x + 18, "start")
    text = text if len(text) <= 30 else text[:29] + "…"
    return [
        *drawn,
        _words(x, y - 2, facts, side),
        _words(x, y + 12, text, side, size=11, weight="bold"),
    ]


def _point(link: Link, a: _Place, b: _Place, fr: float) -> tuple[float, float]:
    """Where on the line between two stops, from edge to edge of their boxes, ``fr`` frames are."""
    share = min(max(fr / link.path_fr, 0.0), 1.0)
    edge = min(0.5, 28.0 / (abs(b.x - a.x) + abs(b.y - a.y)))
    share = edge + share * (1.0 - 2.0 * edge)
    return a.x + (b.x - a.x) * share, a.y + (b.y - a.y) * share


def _stretches(threading: Threading, links: list[Link], places: list[_Place]) -> list[str]:
    """Where each stretch begins, and its number along it."""
    starts = [0.0]
    for link in links:
        starts.append(starts[-1] + link.path_fr)
    drawn: list[str] = []

    def at(fr: float) -> tuple[float, float, bool]:
        i = max(k for k in range(len(links)) if starts[k] <= fr or k == 0)
        a, b = places[i], places[i + 1]
        return *_point(links[i], a, b, fr - starts[i]), a.y == b.y

    for stretch in threading.stretches:
        ends = [stretch.begin.at_fr, *(s for s in starts if stretch.begin.at_fr < s < stretch.end.at_fr)]
        longest = max(zip(ends, [*ends[1:], stretch.end.at_fr], strict=True), key=lambda e: e[1] - e[0])
        ways = [w for w in zip(ends, [*ends[1:], stretch.end.at_fr], strict=True) if at((w[0] + w[1]) / 2)[2]]
        a, b = max(ways, key=lambda e: e[1] - e[0], default=longest)
        x, y, _ = at((a + b) / 2)
        drawn.append(
            f'<rect x="{x - 34:.1f}" y="{y + 9:.1f}" width="68" height="17" rx="8" fill="#fff" stroke-width="1.5"/>'
        )
        drawn.append(_words(x, y + 22, f"stretch {stretch.number}", "middle", size=12, weight="bold"))
        if stretch.number < len(threading.stretches):
            x, y, across = at(stretch.begin.at_fr)
            begin, dx, dy = (6, 0, 20) if across else (0, 20, 0)
            drawn.append(
                f'<path d="M{x - dx:.1f} {y + begin:.1f} L{x + dx:.1f} {y + dy:.1f}" stroke-width="3" stroke-dasharray="3 2"/>'
            )
    return drawn
