"""Numbers, words, places and cells: the measures that the drawing keeps to."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.watch.state import State
from tui.canvas import changed_span, joined
from tui.draw.digits import large, size_for
from tui.draw.foot import draw_keys
from tui.draw.rows import draw_rows
from tui.draw.runs import Block, Row, fit, plain, wrap
from tui.draw.view import View, make_view
from tui.draw.words import countdown, duration, early_late, show_time
from tui.example.moments import adapter_lost, flood, well
from tui.example.show import layout
from tui.look.glyphs import FULL
from tui.places import places

LAY = layout(6)


def seen(state: State, **own: object) -> View:
    return make_view(LAY, state, age_s=0.1, **own)


def text(row: Row) -> str:
    return "".join(t for t, _ in row)


def test_numbers_are_drawn_as_large_as_there_is_room() -> None:
    assert size_for("4", 12, 10, FULL) == (12, 10)
    assert size_for("16", 14, 10, FULL) == (6, 5)
    assert size_for("16", 7, 4, FULL) == (3, 3)
    assert size_for("balcony", 20, 10, FULL) is None
    assert large("1", (3, 3), FULL) == ["▄█ ", " █ ", "▀▀▀"]


@pytest.mark.parametrize("houses", [2, 6, 16, 64])
@pytest.mark.parametrize("size", [(80, 24), (120, 30), (200, 60), (240, 60)])
def test_the_places_add_up_to_the_screen_and_leave_room_for_the_worst_alarm(
    size: tuple[int, int], houses: int
) -> None:
    at = places(*size, houses)
    assert at.banner + at.line + at.houses + at.ribbon + at.lower + at.message + at.keys == size[1]
    assert at.lower >= 2


def test_as_many_keys_as_fit_stand_at_the_foot_and_quit_and_help_always() -> None:
    for width in range(40, 241, 20):
        foot = plain(draw_keys(width, 1, FULL, rehearsal=False, screen="board"))
        assert "F1 help" in foot
        assert "q quit" in foot
        assert "…" not in foot


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "0:01"), (12.0, "0:12"), (753.4, "12:34"), (3753.0, "1:02:33"), (0.0, "now"), (-3.0, "now")],
)
def test_a_countdown_reads_one_second_until_it_is_over(seconds: float, words: str) -> None:
    assert countdown(seconds) == words


def test_times_and_deviations_are_said_in_words() -> None:
    assert duration(7.9) == "0:07"
    assert show_time(None, -12.4, "−") == "−0:00:13"
    assert show_time(3753.9, None, "−") == "1:02:33"
    assert early_late(-0.31) == "0.3 s late"
    assert early_late(0.01) == "on plan"


@given(st.text(max_size=200), st.integers(1, 60))
def test_text_is_cut_or_padded_to_the_cell(given_text: str, width: int) -> None:
    from rich.cells import cell_len  # noqa: PLC0415

    from tui.draw.runs import safe  # noqa: PLC0415

    assert cell_len(fit(safe(given_text, FULL), width, FULL)) == width
    assert all(cell_len(line) <= width for line in wrap(safe(given_text, FULL), width, 3, FULL))


def test_only_the_cells_that_changed_are_painted_again() -> None:
    old: Row = [("house 4 ", "text"), ("0:12", "strong"), (" " * 20, "text"), ("x", "dim")]
    new: Row = [("house 4 ", "text"), ("0:11", "strong"), (" " * 20, "text"), ("y", "dim")]
    assert changed_span(old, new) == (8, 25)
    assert changed_span(old, list(old)) is None
    longer: Row = [("house 44", "text"), ("0:12 ", "strong")]
    assert changed_span(old, longer) == (0, 33)


def test_joining_runs_changes_no_cell_and_no_filled_ground() -> None:
    row: Row = [("a", "text"), (" ", "strong"), ("b", "text"), ("  ", "high"), ("c", "high"), (" ", "text")]
    assert text(joined(row)) == text(row)
    assert joined(row) == [("a b", "text"), ("  c", "high"), (" ", "text")]


def test_nothing_jumps_about_when_a_value_changes() -> None:
    blocks: list[Block] = [draw_rows(seen(make(LAY)), 100, 7) for make in (well, flood, adapter_lost)]
    starts = [[plain([row]).find("close") for row in block[1:]] for block in blocks]
    assert starts[0] == starts[1] == starts[2]
