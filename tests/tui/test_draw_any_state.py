"""Whatever the desk says, and at whatever width, every row is exactly as wide as it should be and harmless."""

from __future__ import annotations

import unicodedata
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from screen_states import layouts, states

from interlock.watch.state import Layout, State
from tui.compose import draw_board
from tui.draw.alarms import draw_alarms
from tui.draw.banner import draw_banner
from tui.draw.cues import draw_cues
from tui.draw.foot import draw_help, draw_keys
from tui.draw.line import draw_line, line_height
from tui.draw.onehouse import draw_one_house
from tui.draw.ribbon import draw_ribbon
from tui.draw.rows import draw_rows
from tui.draw.runs import Block, row_width
from tui.draw.tile import draw_tile
from tui.draw.view import View, make_view
from tui.look.glyphs import ASCII, FULL
from tui.look.palette import STYLES

_slow = settings(
    deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@st.composite
def views(draw: Any, most: int = 16) -> View:
    lay: Layout = draw(layouts(most))
    state: State = draw(states(lay))
    return make_view(
        lay, state, g=draw(st.sampled_from((FULL, ASCII))), house=draw(st.integers(0, len(lay.houses) - 1)),
        hollow=draw(st.booleans()), lost_s=draw(st.sampled_from((None, None, 7.0))), why=draw(st.text(max_size=20)),
        age_s=state.age_s, alarm=draw(st.sampled_from([None, *((a.code, a.subject) for a in state.alarms)])),
    )  # fmt: skip


def is_sound(block: Block, width: int, height: int, *, ascii_only: bool) -> None:
    assert len(block) == height
    for row in block:
        assert row_width(row) == width
        for text, style in row:
            assert style in STYLES
            assert not any(unicodedata.category(c) in ("Cc", "Cf", "Cs") for c in text)
            assert text.isascii() or not ascii_only


@_slow
@given(views(), st.integers(20, 240), st.integers(10, 70))
def test_the_board_is_exactly_as_large_as_the_screen_leaves_room_for(
    view: View, width: int, height: int
) -> None:
    keys = 1 if height < 30 else 2
    block = draw_board(view, width, height)
    is_sound(block, width, height - 1 - keys, ascii_only=view.g.ascii)


@_slow
@given(views(6), st.integers(20, 240))
def test_every_part_of_every_screen_is_exactly_as_wide_as_asked(view: View, width: int) -> None:
    only = view.g.ascii
    is_sound(draw_banner(view, width), width, 3, ascii_only=only)
    is_sound(draw_line(view, width, 4), width, line_height(4), ascii_only=only)
    is_sound(draw_rows(view, width, 9), width, 9, ascii_only=only)
    is_sound(draw_ribbon(view, width, 4), width, 4, ascii_only=only)
    is_sound(draw_alarms(view, width, 9), width, 9, ascii_only=only)
    is_sound(draw_alarms(view, width, 12, unfolded=True), width, 12, ascii_only=only)
    is_sound(draw_cues(view, width, 5), width, 5, ascii_only=only)
    is_sound(draw_keys(width, 2, view.g, rehearsal=True, screen="board"), width, 2, ascii_only=only)
    is_sound(draw_help(width, 20, view.g, rehearsal=True), width, 20, ascii_only=only)
    is_sound(draw_one_house(view, {}, width, 24), width, 24, ascii_only=only)
    for height in (8, 10, 15):
        is_sound(draw_tile(view, view.house, width, height), width, height, ascii_only=only)


@_slow
@given(st.data(), st.integers(20, 240))
def test_a_lost_desk_shows_no_value_as_known(data: st.DataObject, width: int) -> None:
    lay = data.draw(layouts(4))
    view = make_view(lay, data.draw(states(lay)), lost_s=5.0)
    assert all(h.frame is None and h.run is None for h in view.state.houses)
    assert all(link.drift_fr is None and link.left_fr is None for link in view.state.links)
    said = "".join(t for t, _ in draw_banner(view, width)[1])
    assert "DESK NOT" in said
