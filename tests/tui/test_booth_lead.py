"""Words and figures that a booth lead stumbled over on the screens."""

from __future__ import annotations

import msgspec
import pytest

from interlock.watch.flood import Fold
from interlock.watch.state import CueLine, OperatorLine, State
from tui.draw.alarms import draw_alarms
from tui.draw.banner import draw_banner
from tui.draw.cues import draw_cues
from tui.draw.folds import folded
from tui.draw.line import draw_line
from tui.draw.log import draw_log
from tui.draw.loop import gauge_row
from tui.draw.onehouse import draw_one_house
from tui.draw.ribbon import draw_ribbon
from tui.draw.rows import draw_rows, heading
from tui.draw.runs import plain
from tui.draw.view import View, make_view
from tui.draw.words import clock_of, show_time
from tui.example.moments import flood, start, well
from tui.example.show import layout
from tui.look.glyphs import ASCII, FULL, choose

LAY = layout(6)
SCREENS = ("house", "alarms", "cues", "record", "faults", "help")
WORDS = "masking wide, house lights out"


def seen(state: State, **own: object) -> View:
    return make_view(LAY, state, **own)


def with_cue(state: State, words: str, due_s: float, house: str = "4") -> State:
    cue = CueLine(seq=1, at="", show_s=1.0, house=house, cue=words, due_s=due_s, state="coming")
    return msgspec.structs.replace(state, cues=(cue,))


def test_the_time_of_a_cue_is_never_cut_however_far_it_is() -> None:
    for due_s in (3_645.0, 36_045.0):
        told = plain(draw_cues(seen(with_cue(start(LAY), "lamp-off", due_s)), 32, 6))
        assert "…" not in told
        assert "house 4  lamp off" in told


def test_at_80_columns_the_board_tells_a_cue_of_the_show_file_whole_in_two_rows() -> None:
    told = plain(draw_cues(seen(with_cue(well(LAY), WORDS, 1600.0)), 32, 6))
    assert WORDS in " ".join(told.split())


def test_the_next_cue_of_a_machine_that_stands_does_not_count_down() -> None:
    state = with_cue(well(LAY), "open-dowser", (well(LAY).show_s or 0) + 41.0)
    stands = tuple(msgspec.structs.replace(h, run=False) if h.house == "4" else h for h in state.houses)
    assert "in 0:41" in plain(draw_banner(seen(state), 80))
    told = plain(draw_banner(seen(msgspec.structs.replace(state, houses=stands)), 80))
    assert "house 4 0:41 after it runs" in told


def test_the_ribbon_names_who_waits_at_its_head_and_who_is_through_at_its_tail() -> None:
    state = start(LAY)
    rows = plain(draw_ribbon(seen(state), 120)).split("\n")
    assert rows[0].startswith("  on leader: 4 3 2 1 6 5 ")
    through = tuple(
        msgspec.structs.replace(h, phase="clear", frame=float(LAY.length_fr)) if h.house in ("4", "3") else h
        for h in well(LAY).houses
    )
    rows = plain(draw_ribbon(seen(msgspec.structs.replace(well(LAY), houses=through)), 120)).split("\n")
    assert rows[0].rstrip().endswith("through: 4 3")
    assert "4" not in rows[1]


def test_who_waits_is_counted_where_there_are_too_many_to_name() -> None:
    lay = layout(64)
    rows = plain(draw_ribbon(make_view(lay, start(lay)), 80)).split("\n")
    assert "houses on leader" in rows[0]


def test_a_loop_has_its_two_ends_named_and_its_number_a_unit_where_there_is_room() -> None:
    lay = layout(2)
    line = plain(draw_line(make_view(lay, well(lay)), 120))
    assert "tight ├" in line
    assert "┤ spill" in line
    assert " frames " in line
    assert "44 frames to spill" in plain(draw_line(seen(well(LAY)), 120))
    assert "44 fr to spill" in plain(draw_line(seen(well(LAY)), 104))
    near = plain(draw_one_house(seen(well(LAY), house=1), {}, 120, 24))
    assert "tight ├" in near
    assert "frames to" in near


@pytest.mark.parametrize("width", [140, 160, 200])
def test_over_the_gauges_of_a_list_tight_and_spill_stand_at_their_ends(width: int) -> None:
    lay = layout(24)
    view = make_view(lay, well(lay))
    above, row = plain([heading(view, width)]), plain([gauge_row(view, 0, 44)])
    at = above.find("tight")
    assert at > 0
    assert above.find("spill") + 4 - at in {
        row.find("┤"),
        *(plain([gauge_row(view, 0, w)]).find("┤") for w in range(26, 44)),
    }
    assert "frames left" in above


def test_how_many_more_follow_is_not_cut_off() -> None:
    state = flood(LAY)
    assert any(isinstance(f, Fold) and len(f.rest) > 2 for f in folded(state.alarms))
    for width in range(44, 80):
        for row in plain(draw_alarms(seen(state), width, 12)).split("\n"):
            assert "mo…" not in row
            assert "and …" not in row


def test_times_of_day_are_those_of_the_clocks_in_the_house() -> None:
    assert clock_of("2026-12-05T20:50:05.000Z", "Atlantic/Azores") == "19:50:05"
    assert clock_of("2026-12-05T20:50:05.000Z", "no such place") == "20:50:05"
    assert clock_of("", "Atlantic/Azores") == ""
    note = OperatorLine(seq=1, at="2026-12-05T20:50:05.000Z", show_s=1.0, action="note", keys={"text": "x"})
    assert plain(draw_log(seen(well(LAY)), [note], 80, 3)).strip().startswith("19:50:05")
    assert "recorded 2026-12-05 19:50:05 Atlantic/Azores" in plain(
        draw_banner(seen(well(LAY), review=True), 120)
    )


@pytest.mark.parametrize(
    ("environ", "glyphs"),
    [
        ({"LC_ALL": "C"}, ASCII), ({"LC_ALL": "POSIX", "LANG": "en_GB.UTF-8"}, ASCII), ({"LANG": "C"}, ASCII),
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, ASCII),  # as Python itself makes it of LANG=C
        ({"LANG": "C", "LC_CTYPE": "en_GB.UTF-8"}, FULL), ({"LC_ALL": "C", "LONGLACE_ASCII": "0"}, FULL),
        ({"LANG": "C.UTF-8"}, FULL), ({}, FULL),
    ],
)  # fmt: skip
def test_a_console_that_is_said_to_be_a_plain_one_gets_the_plain_glyphs(
    environ: dict[str, str], glyphs: object
) -> None:
    class Console:
        encoding = "utf-8"

    assert choose(environ, Console()) is glyphs  # type: ignore[arg-type]


@pytest.mark.parametrize("width", [80, 88, 90, 100, 120, 200])
def test_close_by_the_frames_left_of_a_loop_are_never_cut_for_their_unit(width: int) -> None:
    told = plain(draw_one_house(seen(well(LAY), house=1), {}, width, 24))
    assert "44 fr to spill" in told or "44 frames to spill" in told or "44 to spill  steady" in told


def test_of_the_last_cue_on_the_board_what_is_cut_is_seen_to_be_cut() -> None:
    cues = tuple(
        CueLine(seq=n, at="", show_s=1.0, house=h, cue=WORDS, due_s=1600.0 + n, state="coming")
        for n, h in enumerate("4321")
    )
    state = msgspec.structs.replace(well(LAY), cues=cues)
    for height in range(2, 8):
        rows = plain(draw_cues(seen(state), 32, height)).rstrip("\n").split("\n")
        whole = sum(row.strip() == "wide, house lights out" for row in rows)
        cut = sum("…" in row for row in rows)
        more = 4 - whole - cut
        assert cut == (height % 2 == 0)
        assert f"{more} more: F5" in rows[-1]


def test_how_an_alarm_stands_is_said_however_narrow_the_list() -> None:
    shelved = next(a for a in flood(LAY).alarms if a.state == "shelved")
    state = msgspec.structs.replace(well(LAY), alarms=(shelved,))
    for width in range(46, 120):
        assert "shelved" in plain(draw_alarms(seen(state), width, 6, unfolded=True))


def test_what_still_stands_is_told_before_what_is_gone_and_with_what_to_do() -> None:
    state = flood(LAY)
    group = next(f for f in folded(state.alarms) if f.by == "group")
    gone = [
        msgspec.structs.replace(a, state="returned-unacknowledged", active=False)
        if a.code != "slack-lost"
        else a
        for a in group.members
    ]
    told = plain(
        draw_alarms(seen(msgspec.structs.replace(state, alarms=tuple(gone))), 110, 20, unfolded=True)
    ).split("\n")
    at = next(n for n, row in enumerate(told) if "SLACK LOST" in row)
    first = next(n for n, row in enumerate(told) if "└" in row)
    assert at == first, "the one that stands comes right beneath the first out"
    slack = next(a for a in gone if a.code == "slack-lost")
    assert told[at + 1].strip().startswith(slack.text[:40])


@pytest.mark.parametrize("width", [44, 47, 60])
def test_what_is_known_of_a_loop_in_alarm_is_not_cut(width: int) -> None:
    state = flood(LAY)
    slack = next(a for a in state.alarms if a.code == "slack-critical")
    told = plain(draw_alarms(seen(msgspec.structs.replace(state, alarms=(slack,))), width, 12))
    assert "fills 24 frames a second" in " ".join(told.split())


def test_sixteen_loops_side_by_side_say_which_way_they_go() -> None:
    lay = layout(16)
    state = well(lay)
    last = plain(draw_line(make_view(lay, state), 200)).split("\n")[-1]
    for link in state.links:
        assert f"{int(link.left_fr or 0)} {link.toward}" in last
    assert "…" not in last


@pytest.mark.parametrize("width", [80, 120])
def test_no_house_near_another_is_left_off_the_ribbon(width: int) -> None:
    houses = tuple(
        msgspec.structs.replace(h, frame=2400.0 + 900.0 * (5 - n), phase="picture")
        for n, h in enumerate(well(LAY).houses)
    )
    told = plain(draw_ribbon(seen(msgspec.structs.replace(well(LAY), houses=houses)), width))
    assert "no room" not in told
    rows = told.split("\n")[:2]
    places = [max(row.find(h.house) for row in rows) for h in houses]
    assert min(places) > 0
    assert places == sorted(places, reverse=True), (
        "who is further along the print stands further along the ribbon"
    )


def test_a_page_in_a_browser_names_no_key_that_is_none_there() -> None:
    view = seen(flood(LAY), keys=False)
    told = plain(draw_alarms(view, 84, 5)) + plain(draw_cues(view, 42, 5))
    assert "more" in told
    assert "F4" not in told
    assert "F5" not in told


@pytest.mark.parametrize(
    ("plan_s", "told"),
    [(-86_399.0, "−23:59:59"), (-86_400.0, "−1 d 0:00 h"), (-858_196.0, "−9 d 22:23 h"), (-34.0, "−0:00:34")],
)
def test_a_start_that_is_days_away_is_told_in_days(plan_s: float, told: str) -> None:
    assert show_time(None, plan_s, "−") == told


def test_where_not_all_houses_fit_no_heading_is_cut_by_the_word_on_that() -> None:
    lay = layout(64)
    told = plain(draw_rows(make_view(lay, well(lay)), 80, 18)).split("\n")[0]
    assert "below: j k move" in told
    assert "…" not in told
