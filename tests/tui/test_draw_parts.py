"""The parts of the screens one by one: what a person is to read from them."""

from __future__ import annotations

import itertools

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.watch.state import State
from tui.draw.alarms import draw_alarms
from tui.draw.banner import draw_banner
from tui.draw.chart import draw_chart
from tui.draw.cues import draw_cues
from tui.draw.folds import folded
from tui.draw.line import draw_line
from tui.draw.loop import gauge, hanging, left_words
from tui.draw.ribbon import draw_ribbon
from tui.draw.rows import columns, draw_rows
from tui.draw.runs import Row, plain
from tui.draw.tile import draw_tile
from tui.draw.view import View, make_view
from tui.example.moments import adapter_lost, before, end, flood, one_alarm, start, well
from tui.example.show import layout, link_line
from tui.look.glyphs import ASCII, FULL

LAY = layout(6)


def seen(state: State, **own: object) -> View:
    return make_view(LAY, state, age_s=0.1, **own)


def with_drift(drift_fr: float | None) -> View:
    state = well(LAY)
    return seen(
        msgspec.structs.replace(state, links=(link_line(LAY, 0, drift_fr, 10.0, "", 1), *state.links[1:]))
    )


def text(row: Row) -> str:
    return "".join(t for t, _ in row)


@pytest.mark.parametrize(
    ("drift_fr", "drawn"),
    [
        (0.0, "├─────●─────┤"), (24.0, "├─────┼──●──┤"), (-24.0, "├──●──┼─────┤"),
        (48.0, "├─────┼─────●"), (-60.0, "●─────┼─────┤"),
    ],
)  # fmt: skip
def test_the_drift_stands_as_a_point_between_its_limits(drift_fr: float, drawn: str) -> None:
    view = with_drift(drift_fr)
    assert text(gauge(view, view.state.links[0], LAY.links[0], 13)) == drawn


def test_an_unknown_drift_is_drawn_broken_and_said() -> None:
    view = with_drift(None)
    assert text(gauge(view, view.state.links[0], LAY.links[0], 13)) == "├╌╌╌╌╌?╌╌╌╌╌┤"
    assert left_words(view.state.links[0]) == "not known"


@given(st.floats(-60, 60), st.floats(0, 40))
def test_a_loop_hangs_never_less_deep_for_more_film_in_it(drift_fr: float, more_fr: float) -> None:
    def depth(d: float) -> int:
        return sum(bool(text(row).strip()) for row in hanging(with_drift(d), 0, 20, 6))

    assert depth(drift_fr) <= depth(drift_fr + more_fr)


def test_a_tight_loop_is_flat_and_one_at_spill_hangs_to_the_bottom() -> None:
    tight, full = (hanging(with_drift(d), 0, 20, 5) for d in (-48.0, 48.0))
    assert text(tight[0]) == "─" * 20
    assert not any(text(row).strip() for row in tight[1:])
    assert all(text(row).strip() for row in full)


def test_the_line_runs_from_feed_to_take_up_through_every_gate_in_order() -> None:
    film = text(draw_line(seen(well(LAY)), 120)[1])
    assert [c for c in film if c.isdigit()] == list("432165")
    assert film.index("◎") < film.index("4")
    assert film.rindex("◎") > film.index("5")


@pytest.mark.parametrize("width", [80, 100, 120, 200])
def test_one_line_a_house_still_shows_motor_lamp_gate_loop_and_countdown(width: int) -> None:
    block = plain(draw_rows(seen(start(LAY)), width, 7)).split("\n")
    assert len(block) == 7
    for row in block[1:6]:
        assert "●runs" in row
        assert "lit" in row or "out" in row
        assert "pic in" in row
        assert "spill" in row or "tight" in row
        assert "strike" in row or "open" in row


def test_at_80x24_sixteen_houses_the_worst_alarm_and_the_next_cue_are_all_visible() -> None:
    from tui.compose import draw_board  # noqa: PLC0415

    lay = layout(16)
    screen = plain(draw_board(make_view(lay, flood(lay), age_s=0.1), 80, 24))
    for house in lay.houses:
        assert f"{house.house} " in screen
    assert screen.count("●runs") == 15
    assert "RUN LOST house 13" in screen
    assert "next close dowser, house 4 in 19:50" in screen
    assert "Stop all, dowsers shut." in screen.split("\n")[-1]


def test_the_narrower_the_list_the_fewer_the_columns_and_the_loop_goes_last() -> None:
    names = [{c.name for c, _ in columns(w)} for w in range(19, 160)]
    assert all(a <= b for a, b in itertools.pairwise(names))
    assert names[0] == {"loop"}


def test_the_first_out_leads_and_its_consequences_are_folded_beneath_it() -> None:
    folds = folded(flood(LAY).alarms)
    assert folds[0].head.code == "run-lost"
    assert [a.code for a in folds[0].rest] == ["slack-lost", "slack-critical", "gate-heat"]
    assert folds[-1].head.state == "shelved"
    rows = plain(draw_alarms(seen(flood(LAY)), 100, 12)).split("\n")
    assert "RUN LOST house 2" in rows[0]
    assert "first out" in rows[0]
    assert "for 0:02" in rows[0]
    assert "Stop all" in rows[1]
    assert "follow from it" in "".join(rows[2:5])


def test_an_alarm_on_a_loop_says_how_long_there_is() -> None:
    rows = plain(draw_alarms(seen(one_alarm(LAY)), 120, 4))
    assert "4:08-6:43 left" in rows


def test_the_banner_names_the_worst_alarm_and_what_to_do() -> None:
    wrong = text(draw_banner(seen(flood(LAY)), 120)[1])
    assert "■5 high" in wrong
    assert "RUN LOST house 2: Stop all" in wrong


def test_the_banner_says_all_well_only_when_it_is_known() -> None:
    assert "all well" in text(draw_banner(seen(well(LAY)), 120)[1])
    unknown = msgspec.structs.replace(adapter_lost(LAY), alarms=())
    assert "3 of 6 motors are not known" in text(draw_banner(seen(unknown), 120)[1])
    silent = make_view(LAY, well(LAY), age_s=9.0)
    assert "no word from any adapter" in text(draw_banner(silent, 120)[1])
    assert "no adapter has spoken" in text(draw_banner(make_view(LAY, well(LAY), age_s=None), 120)[1])


def test_the_heartbeat_is_the_desks_own_and_stands_when_its_count_stands() -> None:
    state = well(LAY)
    rows = [text(draw_banner(seen(msgspec.structs.replace(state, beat=n)), 120)[2]) for n in (5, 5, 6)]
    assert rows[0] == rows[1] != rows[2]


def test_who_leads_and_from_where_is_in_the_banner_and_so_is_a_rehearsal() -> None:
    rehearsal = layout(6, rehearsal=True)
    row = text(draw_banner(make_view(rehearsal, well(rehearsal), age_s=0.1), 120)[0])
    assert "A. Blyth leads, north" in row
    assert "REHEARSAL x4" in row


def test_a_failing_record_is_in_the_banner() -> None:
    assert "NOT RECORDED" in text(
        draw_banner(seen(msgspec.structs.replace(well(LAY), record_ok=False)), 80)[2]
    )


def test_a_standing_machine_has_leader_to_run_and_no_countdown() -> None:
    assert "leader 0:12" in plain(draw_rows(seen(before(LAY)), 100, 7))
    assert "pic in" not in plain(draw_rows(seen(before(LAY)), 100, 7))


def test_a_released_loop_and_a_house_that_is_through_say_so() -> None:
    screen = plain(draw_rows(seen(end(LAY)), 100, 7))
    assert "film through" in screen
    assert "released" in screen


def test_the_ribbon_puts_every_gate_where_the_print_is_and_counts_the_rest() -> None:
    rows = plain(draw_ribbon(seen(well(LAY)), 120)).split("\n")
    upstream, downstream = rows[0].find("4"), rows[1].find("5")
    assert 0 < downstream < upstream
    assert "3 houses not known" in plain(draw_ribbon(seen(adapter_lost(LAY)), 120))
    assert "on leader: 4 3 2 1 6 5" in plain(draw_ribbon(seen(start(LAY)), 120))


def test_cues_stand_in_the_order_of_time_with_their_countdown() -> None:
    rows = plain(draw_cues(seen(start(LAY)), 46, 6)).split("\n")
    assert "0:04  house 4  open dowser" in rows[0]
    assert "more: F5" in rows[-1]


def test_a_dark_house_says_so() -> None:
    state = well(LAY)
    dark = msgspec.structs.replace(
        state, houses=(msgspec.structs.replace(state.houses[0], dark=True), *state.houses[1:])
    )
    assert "dark" in plain(draw_tile(seen(dark), 0, 24, 10))
    assert "dark" in plain(draw_rows(seen(dark), 120, 7))


def test_a_chart_shows_unknown_stretches_as_gaps_and_marks_the_limits() -> None:
    points = [(float(t), None if 40 < t < 60 else t / 4 - 10, 0.5) for t in range(100)]
    drawn = plain(draw_chart(points, 48, 48, 100, 80, 12, FULL))
    for words in ("spill +48", "at rest 0", "tight −48", "now", "?"):
        assert words in drawn
    assert drawn.isascii() is False
    assert plain(draw_chart(points, 48, 48, 100, 80, 12, ASCII)).isascii()
