"""A flood of alarms: marked in the banner, folded by cause on the list, opened by a key or by the mouse's owner."""

from __future__ import annotations

import msgspec
import pytest
from screen_running import running

from interlock.watch.state import AlarmLine, State
from tui.canvas import Canvas
from tui.draw.alarms import draw_alarms
from tui.draw.banner import draw_banner
from tui.draw.folds import in_order, pickable
from tui.draw.house import signal_run
from tui.draw.loop import left_row
from tui.draw.runs import plain
from tui.draw.tile import draw_tile
from tui.draw.view import make_view, style_of
from tui.example.moments import adapter_lost, flood, power_dip
from tui.example.show import layout

LAY = layout(6)


def drawn(state: State, width: int = 120, height: int = 24, **own: object) -> str:
    return plain(draw_alarms(make_view(LAY, state, age_s=0.1, **own), width, height, unfolded=True))


@pytest.mark.parametrize(("width", "word"), [(80, "FLOOD 13 new"), (120, "FLOOD: 13 new alarms in 10 min")])
def test_the_banner_marks_a_flood_with_its_word_and_its_count(width: int, word: str) -> None:
    assert word in plain(draw_banner(make_view(LAY, power_dip(LAY), age_s=0.1), width))
    assert "FLOOD" not in plain(draw_banner(make_view(LAY, flood(LAY), age_s=0.1), width))


def test_in_a_flood_each_cause_is_one_head_and_the_rest_are_counted() -> None:
    text = drawn(power_dip(LAY))
    assert text.count("LAMP OUT house") == 1
    assert "and 5 more of lamp out" in text
    assert "and 2 more of slack low" in text
    assert text.index("RUN LOST house 2") < text.index("LAMP OUT house 4") < text.index("slack low loop")
    assert "first out" in text


def test_an_opened_fold_shows_each_of_its_alarms_and_the_others_stay_folded() -> None:
    text = drawn(power_dip(LAY), opened=frozenset({"code lamp-out"}))
    assert text.count("LAMP OUT house") == 6
    assert "and 2 more of slack low" in text


def test_no_alarm_is_lost_by_folding_and_only_what_is_shown_can_be_picked() -> None:
    state = power_dip(LAY)
    names = {(a.code, a.subject) for a in state.alarms}
    opened = {"group 39900", "code lamp-out", "code slack-low"}
    assert {(a.code, a.subject) for a in pickable(state, opened)} == names
    assert len(pickable(state, ())) == 4
    assert pickable(flood(LAY), ()) == in_order(flood(LAY).alarms), "without a flood all can be picked"


async def test_enter_opens_the_picked_fold_on_the_list_and_closes_it_again() -> None:
    async with running("power-dip") as r:
        await r.press("u", "u", "enter")
        assert r.app.screen_name == "alarms"
        assert r.text().count("LAMP OUT house") == 6
        await r.press("u", "u", "enter")
        assert r.text().count("LAMP OUT house") == 1, "a member closes its fold as well"
        assert r.app.alarm == ("lamp-out", "4"), "and its head is picked, so that nothing unseen is"
        assert r.sent() == [], "opening is not acknowledging"


async def test_enter_says_why_there_is_nothing_to_open() -> None:
    async with running("power-dip") as r:
        await r.press("i", "enter")
        assert "stands alone" in r.text("message")
    async with running("flood") as r:
        await r.press("u", "enter")
        assert "folded only in a flood" in r.text("message")


async def test_acknowledging_a_fold_s_head_acknowledges_that_alarm_alone() -> None:
    async with running("power-dip") as r:
        await r.press("u", "u", "a")
        assert r.sent() == [{"action": "ack", "subject": "4", "code": "lamp-out"}]


def test_what_an_adapter_says_of_itself_stands_under_its_alarm_and_in_the_banner() -> None:
    state = adapter_lost(LAY)
    text = drawn(state)
    assert "it says: its port is gone: /dev/ttyACM1" in text
    assert "houses 1 6 5; LOST, last word 0:06 ago" in text
    assert "It says: its port is gone" in plain(draw_banner(make_view(LAY, state, age_s=0.1), 160))


def test_an_alarm_that_is_gone_is_never_told_as_if_it_stood() -> None:
    state = flood(LAY)
    gone = msgspec.structs.replace(state.alarms[0], state="returned-unacknowledged", active=False)
    alone = msgspec.structs.replace(state, alarms=(gone,))
    banner = plain(draw_banner(make_view(LAY, alone, age_s=0.1), 120))
    assert "RUN LOST house 2 is gone by itself, not acknowledged" in banner
    assert "Stop all" not in banner
    assert "Stop all" in drawn(alone)  # on the list of all alarms one may read what it had said
    view = make_view(LAY, alone, age_s=0.1)
    for width in (48, 120):
        board = plain(draw_alarms(view, width, 10))
        assert "gone" in board.splitlines()[0]
        assert "ago" in board.splitlines()[0]
        assert "Stop all" not in board


def test_what_stands_comes_before_what_is_gone_whatever_their_priorities() -> None:
    state = flood(LAY)
    lamp = next(a for a in state.alarms if a.code == "lamp-out")
    lost = next(a for a in state.alarms if a.code == "run-lost")
    gone = msgspec.structs.replace(lost, state="returned-unacknowledged", active=False)
    low = msgspec.structs.replace(lamp, priority="low", group=None, first_out=False)
    state = msgspec.structs.replace(state, alarms=(gone, low))
    view = make_view(LAY, state, age_s=0.1)
    assert in_order(state.alarms) == [low, gone]
    assert "LAMP OUT house 5: " in plain(draw_banner(view, 120))
    same = msgspec.structs.replace(low, subject=gone.subject)
    view = make_view(LAY, msgspec.structs.replace(state, alarms=(gone, same)), age_s=0.1)
    assert view.house_alarm(gone.subject) == same, "its tile would say that all is over"


def test_where_the_first_out_is_gone_and_what_followed_is_not_the_board_says_what_to_do_about_that() -> None:
    state = flood(LAY)
    first = next(a for a in state.alarms if a.first_out and a.group is not None)
    after = next(a for a in state.alarms if a.group == first.group and not a.first_out)
    gone = msgspec.structs.replace(first, state="returned-unacknowledged", active=False)
    after = msgspec.structs.replace(after, text="Look at that loop.")
    view = make_view(LAY, msgspec.structs.replace(state, alarms=(gone, after)), age_s=0.1)
    rows = plain(draw_alarms(view, 60, 8)).splitlines()
    assert "RUN LOST house 2" in rows[0]
    assert "gone" in rows[0]
    assert ": Look at that loop." in rows[1], "under the name of what it is about"
    assert after.subject in rows[1]


def test_the_board_gives_no_room_to_what_was_to_be_done_about_an_alarm_that_was_put_aside() -> None:
    state = flood(LAY)
    aside = tuple(msgspec.structs.replace(a, state="suppressed", text="Not now.") for a in state.alarms)
    view = make_view(LAY, msgspec.structs.replace(state, alarms=aside), age_s=0.1)
    assert "Not now." not in plain(draw_alarms(view, 60, 10))
    assert "Not now." in plain(draw_alarms(view, 120, 24, unfolded=True))


def test_of_a_lost_desk_no_house_is_told_to_be_in_alarm_and_the_list_says_what_was_last_known() -> None:
    view = make_view(LAY, flood(LAY), lost_s=12.0)
    assert view.worst == {}
    assert "lamp out" not in plain(draw_tile(view, 5, 28, 10))
    text = plain(draw_alarms(view, 120, 24))
    assert text.startswith("last known, before the desk was lost:")
    assert "RUN LOST house 2" in text


def only(a: AlarmLine) -> State:
    return msgspec.structs.replace(flood(LAY), alarms=(a,))


def test_an_alarm_that_nothing_follows_needs_no_first_out_mark() -> None:
    assert "first out" not in drawn(only(flood(LAY).alarms[0]))
    assert "first out" in drawn(flood(LAY))


async def click(r, x: int, y: int) -> None:  # type: ignore[no-untyped-def]
    r.app.post_message(Canvas.Clicked(r.app.query_one("#body", Canvas), x, y))
    await r.settle()


def row_with(text: str, words: str) -> int:
    return next(y for y, row in enumerate(text.split("\n")) if words in row)


async def test_a_click_picks_an_alarm_or_a_cue_on_the_board_and_on_its_own_screen() -> None:
    async with running("flood") as r:
        await click(r, 5, row_with(r.text(), "LAMP OUT house 5"))
        assert r.app.alarm == ("lamp-out", "5")
        await click(r, 90, row_with(r.text(), "23:46  house 1"))
        assert r.app.model.layout is not None
        assert r.app.model.layout.houses[r.app.house].house == "1"
        await r.press("f4")
        await click(r, 5, row_with(r.text(), "GATE HEAT"))
        assert r.app.alarm == ("gate-heat", "2")
        await r.press("f5")
        await click(r, 5, row_with(r.text(), "24:36  6"))
        assert r.app.model.layout.houses[r.app.house].house == "6"
        assert "▸" in r.text().split("\n")[row_with(r.text(), "24:36  6")]
        assert r.sent() == [], "a click picks and does nothing"


async def test_a_click_picks_a_fault_and_throws_none() -> None:
    async with running("well", rehearsal=True) as r:
        await r.press("f7")
        await click(r, 5, row_with(r.text(), "feed platter stops"))
        assert r.app.own["faults"].fault == 1
        assert r.sent() == []


async def test_on_the_cue_sheet_j_and_k_move_along_the_cues_and_pick_their_houses() -> None:
    async with running("well") as r:
        await r.press("f5", "j", "j", "j")
        key = r.app.own["cues"].cue
        assert key is not None
        assert key[:2] == ("2", "close-dowser")
        assert r.app.house == 2
        assert "F5 shows them all" not in r.text(), "one is there"


def test_what_is_gone_colours_neither_the_loop_nor_the_signal_that_it_was_about() -> None:
    state = flood(LAY)
    gone = tuple(
        msgspec.structs.replace(a, state="returned-unacknowledged", active=False) for a in state.alarms
    )
    view = make_view(LAY, msgspec.structs.replace(state, alarms=gone), age_s=0.1)
    link = next(a.subject for a in gone if a.code.startswith("slack"))
    loop = next(line for line in view.state.links if line.link == link)
    assert view.worst[link] is not None
    assert view.loop_alarm(link) is None
    assert not any(style.endswith("-mark") for _, style in left_row(view, loop, 15))
    house = next(h for h in view.state.houses if h.house == "2")
    assert signal_run(view, house, "run", 6)[0][1] == "text"
    assert style_of(gone[0]) == "high-mark", "it still asks to be seen, and is not filled as what stands is"


def test_a_record_that_fails_is_told_with_its_place_and_its_name_ends_in_no_blank() -> None:
    state = flood(LAY)
    failing = msgspec.structs.replace(
        state.alarms[0], code="record-failing", subject="desk", text="Make room.", group=None, first_out=False
    )
    state = msgspec.structs.replace(state, alarms=(failing,))
    assert "RECORD FAILING: Make room." in plain(draw_banner(make_view(LAY, state, age_s=0.1), 120))
    assert LAY.record is not None
    assert f"the record is {LAY.record}" in drawn(state)
