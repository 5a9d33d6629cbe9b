"""The contacts of the houses concerned over time as SVG: a bar where one is closed, a thin line where it is open, nothing where
that is not known."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from interlock.incident.chart import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Mark, marks_svg, ticks_svg
from interlock.incident.incidents import Incident
from interlock.incident.recorded import seconds_at
from interlock.watch.state import HouseLine

ROWS: tuple[tuple[str, str], ...] = (
    ("run", "turns"),
    ("lamp", "lit"),
    ("dowser", "open"),
    ("film", "present"),
)
"""Contact, and what a bar of it says; the names are those of the show file's signals."""
ROW_PX, BAR_PX = 15, 8
LETTERS_PX = 8
"""Room for the letters of the marks above the bars."""
MOST_HOUSES = 6

Told = tuple[float, bool | None]


def concerned_houses(s: Incident, houses: Sequence[str], unheard: Iterable[str] = ()) -> list[str]:
    """The houses that have an alarm in it or that nobody spoke for (``unheard``), in film order, the first-out's always
    among them."""
    own = {a.subject for a in s.alarms}.union(unheard)
    first = [h for h in houses if h == s.first.subject]
    some = [*first, *(h for h in houses if h in own and h not in first)][:MOST_HOUSES]
    return [h for h in houses if h in some]


def contacts_svg(
    lines: Sequence[HouseLine],
    house: str,
    from_s: float,
    to_s: float,
    zero_s: float,
    marks: Sequence[Mark],
) -> str:
    """One house from ``from_s`` to ``to_s`` (UTC seconds; ``zero_s`` is show zero); "" where nothing was ever told of it."""
    told = {what: _told(lines, house, what, from_s, to_s) for what, _ in ROWS}
    rows = [(what, words) for what, words in ROWS if any(v is not None for _, v in told[what])]
    if not rows:
        return ""
    height = TOP + LETTERS_PX + ROW_PX * len(rows) + BOTTOM
    name = escape(f"contacts of house {house}")

    def px(at_s: float) -> float:
        return LEFT + (at_s - from_s) / (to_s - from_s) * (WIDTH - LEFT - RIGHT)

    out = [f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{name}"><title>{name}</title>']
    for n, (what, words) in enumerate(rows):
        y = TOP + LETTERS_PX + ROW_PX * (n + 0.5)
        out.append(
            f'<text x="{LEFT - 4}" y="{y + 3:.1f}" text-anchor="end">{escape(f"{what}: {words}")}</text>'
        )
        bars, thin = [], []
        steps = told[what]
        for (at_s, value), (until_s, _) in zip(steps, [*steps[1:], (to_s, None)], strict=True):
            a, b = px(max(at_s, from_s)), px(until_s)
            if value and b > a:
                bars.append(f"M{a:.1f} {y - BAR_PX / 2:.1f}H{b:.1f}v{BAR_PX}H{a:.1f}z")
            elif value is False and b > a:
                thin.append(f"M{a:.1f} {y:.1f}H{b:.1f}")
        out.append(f'<path class="on" d="{"".join(bars)}"/><path class="zero" d="{"".join(thin)}"/>')
    out.append(ticks_svg(from_s - zero_s, to_s - zero_s, height))
    out.append(marks_svg(marks, from_s - zero_s, to_s - zero_s, height))
    out.append("</svg>")
    return "".join(out)


def _told(lines: Sequence[HouseLine], house: str, what: str, from_s: float, to_s: float) -> list[Told]:
    """The values from the one that held at ``from_s`` on, each with the second from which it held."""
    steps: list[Told] = [(from_s, None)]
    for x in lines:
        if x.house != house:
            continue
        at_s, value = seconds_at(x.at), getattr(x, what)
        if at_s > to_s:
            break
        if at_s <= from_s:
            steps = [(from_s, value)]
        elif steps[-1][1] is not value:
            steps.append((at_s, value))
    return steps
