"""The board where it has the most room, and where it has less."""

from __future__ import annotations

import math
from collections import deque

import pytest

from interlock.watch.state import Line
from tui.draw.runs import plain
from tui.draw.view import make_view
from tui.example.moments import MOMENTS
from tui.example.show import layout
from tui.model import Model
from tui.screens import Own, draw_screen


def model_of(moment: str, houses: int = 6) -> Model:
    """With ten minutes of drift: a wave of twenty frames, not known for half a minute."""
    lay = layout(houses)
    state = MOMENTS[moment](lay)
    model = Model(layout=lay, state=state)
    end_s = state.show_s or 0.0
    for n, link in enumerate(lay.links):
        points: deque[tuple[float, float | None, float | None]] = deque()
        for t in range(600):
            known = not 200 <= t < 230
            drift = 20.0 * math.sin(t / 95.0 + n)
            points.append((end_s - 600 + t, drift if known else None, 2.0 if known else None))
        model.drifts[link.link] = points
    lines: list[Line] = [*state.alarms, *state.cues]
    model.log.extend(sorted(lines, key=lambda line: line.seq))
    return model


def drawn(screen: str, moment: str, width: int, height: int, houses: int = 6) -> str:
    """The body: what is left between the banner and the message."""
    model = model_of(moment, houses)
    assert model.layout is not None
    assert model.state is not None
    view = make_view(model.layout, model.state, house=1, age_s=0.1)
    own = Own(lines=tuple(model.log))
    body = height - 3 - 1 - (1 if height < 30 else 2)
    block = draw_screen(screen, view, model, own, width, body)
    assert len(block) == body
    assert all(sum(len(text) for text, _ in row) == width for row in block)
    return "\n".join(line.rstrip() for line in plain(block).split("\n")) + "\n"


@pytest.mark.parametrize("moment", ["well", "flood"])
def test_the_largest_board_has_the_loops_of_the_picked_house_as_charts_in_every_state(moment: str) -> None:
    text = drawn("board", moment, 240, 60, houses=16)
    rows = text.split("\n")
    at = next(n for n, row in enumerate(rows) if "before house" in row)
    assert "behind house" in rows[at]
    chart = "\n".join(rows[at:])
    assert "10 min ago" in chart
    assert chart.count("spill +") == 2, "two charts beside each other"
    assert any("⠀" < c <= "⣿" for c in chart)
    other = drawn("board", "well" if moment == "flood" else "flood", 240, 60, houses=16).split("\n")
    assert "before house" in other[at], "nothing jumps about"


def test_a_smaller_board_has_no_charts() -> None:
    assert "before house" not in drawn("board", "well", 120, 30)
