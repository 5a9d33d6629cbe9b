"""The evening as a picture: a bar a house, from its doors to the end of the film."""

from __future__ import annotations

from collections.abc import Callable
from html import escape

from interlock.plan.times import HouseClock, clocks, local
from interlock.showfile.show import Show

_LEFT, _RIGHT, _ROW, _TOP = 90.0, 880.0, 22.0, 26.0
_FONT = 'font-family="Helvetica, Arial, Liberation Sans, DejaVu Sans, sans-serif"'


def evening_svg(show: Show) -> str:
    """Doors thin, leader and tail empty, picture filled, the next show as a mark."""
    houses = clocks(show)
    every = [time_s for clock in houses for _, time_s in clock.times()]
    every += [clock.next_show_s for clock in houses if clock.next_show_s is not None]
    first_s, last_s = min(every), max(every)
    scale = (_RIGHT - _LEFT) / max(1.0, last_s - first_s)

    def x(time_s: float) -> float:
        return _LEFT + (time_s - first_s) * scale

    bottom = _TOP + _ROW * len(houses)
    drawn = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_RIGHT + 20:.0f} {bottom + 22:.0f}" {_FONT} '
            'font-size="12" fill="#000" stroke="none">'
        ),
        f"<title>{escape(show.title)}: the evening of every house</title>",
    ]
    for time_s in _hours(show, first_s, last_s):
        drawn.append(
            f'<path d="M{x(time_s):.1f} {_TOP - 4:.1f} V{bottom:.1f}" stroke="#777" stroke-width=".6" stroke-dasharray="2 3"/>'
        )
        drawn.append(
            f'<text x="{x(time_s):.1f}" y="{_TOP - 9:.1f}" text-anchor="middle">{local(show, time_s):%H:%M}</text>'
        )
    for i, clock in enumerate(houses):
        drawn += _house(clock, _TOP + _ROW * i, x)
    drawn.append(
        f'<text x="{_LEFT:.1f}" y="{bottom + 16:.1f}" font-size="11">line: doors to picture · '
        "empty bar: leader, tail · full bar: picture · ◆ next show</text>"
    )
    return "\n".join([*drawn, "</svg>"])


def _house(clock: HouseClock, y: float, x: Callable[[float], float]) -> list[str]:
    middle, film, picture = y + 9, x(clock.motor_s), x(clock.first_picture_s)
    lit = clock.lamp_s is not None
    fill = "#000" if lit else "#fff"
    label = clock.house if lit else f"{clock.house} (dark)"
    drawn = [
        f'<text x="{_LEFT - 8:.1f}" y="{middle + 4:.1f}" text-anchor="end" font-weight="bold">{escape(label)}</text>'
    ]
    if clock.doors_s is not None:
        drawn.append(f'<path d="M{x(clock.doors_s):.1f} {middle:.1f} H{picture:.1f}" stroke="#000"/>')
    drawn.append(
        f'<rect x="{film:.1f}" y="{y + 3:.1f}" width="{x(clock.clear_s) - film:.1f}" height="12" fill="#fff" stroke="#000"/>'
    )
    drawn.append(
        f'<rect x="{picture:.1f}" y="{y + 3:.1f}" width="{x(clock.last_picture_s) - picture:.1f}" height="12" '
        f'fill="{fill}" stroke="#000"/>'
    )
    if clock.next_show_s is not None:
        drawn.append(
            f'<text x="{x(clock.next_show_s):.1f}" y="{middle + 5:.1f}" text-anchor="middle">◆</text>'
        )
    return drawn


def _hours(show: Show, first_s: float, last_s: float) -> list[float]:
    """Plan times of the full local hours (half hours of a short evening) between two plan times."""
    step_s = 1800.0 if last_s - first_s < 4 * 3600 else 3600.0 * max(1.0, (last_s - first_s) // (12 * 3600))
    at = local(show, first_s)
    into_s = (at.minute * 60 + at.second) % step_s if step_s < 3600 else at.minute * 60 + at.second
    hours: list[float] = []
    time_s = first_s - into_s + step_s
    while time_s < last_s:
        hours.append(time_s)
        time_s += step_s
    return hours
