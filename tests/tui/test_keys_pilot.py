"""Every key, pressed on the running program: what it sends to the desk, what it asks first, what it shows."""

from __future__ import annotations

import msgspec
import pytest
from screen_running import running
from screen_states import NASTY

from interlock.watch.state import Happened, OperatorLine
from tui.canvas import Canvas
from tui.example.moments import well
from tui.example.show import layout
from tui.keys import KEYS
from tui.panel import Panel


async def test_every_action_carries_who_did_it_and_from_where() -> None:
    async with running() as r:
        await r.press("s")
        assert r.source.sent == [{"action": "silence", "by": "A. Blyth", "booth": "north"}]


async def test_r_arms_at_once_and_disarms_only_when_told_twice() -> None:
    async with running(msgspec.structs.replace(well(layout(6)), phase="waiting")) as r:
        await r.press("r")
        assert r.sent() == [{"action": "arm"}]
    async with running() as r:
        await r.press("r")
        assert r.sent() == []
        await r.press("y")
        assert r.sent() == [{"action": "disarm"}]


async def test_x_and_t_ask_before_they_say_that_all_stops_or_goes_on() -> None:
    async with running() as r:
        await r.press("x", "escape", "t", "f3")
        assert r.sent() == []
        await r.press("x", "y", "t", "y")
        assert r.sent() == [{"action": "stop-all"}, {"action": "restart"}]


async def test_o_hands_over_with_name_and_booth() -> None:
    async with running() as r:
        await r.press("o", *"Iris", "tab", *"attic", "enter")
        assert r.source.sent == [{"action": "handover", "by": "Iris", "booth": "attic"}]


async def test_w_changes_who_stands_beside_every_action_from_then_on() -> None:
    async with running() as r:
        await r.press("w", *"Iris", "tab", *"attic", "enter", "s")
        assert r.source.sent == [{"action": "silence", "by": "Iris", "booth": "attic"}]
        assert "Iris, attic" in r.text("message")


async def test_speed_and_faults_are_there_in_a_rehearsal_only() -> None:
    async with running(rehearsal=True) as r:
        await r.press("e", "d", "f7", "j", "f")
        assert r.sent() == [{"action": "speed", "x": 10.0}, {"action": "fault", "what": "feed"}]
        assert "REHEARSAL" in r.text("banner")
    async with running() as r:
        await r.press("e", "f7", "f")
        assert r.sent() == []
        assert not r.asking
        assert r.app.screen_name == "board"
        assert "REHEARSAL" not in r.text("banner")


async def test_the_f_keys_change_the_screen_and_the_banner_stays() -> None:
    async with running("flood", rehearsal=True) as r:
        for n, name in (
            (1, "help"),
            (3, "house"),
            (4, "alarms"),
            (5, "cues"),
            (6, "record"),
            (7, "faults"),
            (2, "board"),
        ):
            await r.press(f"f{n}")
            assert r.app.screen_name == name
            assert "RUN LOST house 2" in r.text("banner")
            assert r.app.query_one("#banner", Canvas).region.y == 0


async def test_the_banner_is_not_covered_while_the_panel_asks() -> None:
    async with running("flood", size=(80, 24)) as r:
        await r.press("o")
        await r.pilot.pause()
        panel = r.app.query_one(Panel).region
        assert panel.y >= 3
        assert panel.bottom <= 22


async def test_while_the_panel_asks_no_other_key_acts() -> None:
    async with running("flood") as r:
        await r.press("x", "a", "s", "f4", "j", "q")
        assert r.sent() == []
        assert r.asking
        assert r.app.screen_name == "board"


async def test_j_and_k_pick_houses_and_stop_at_the_ends() -> None:
    async with running() as r:
        await r.press("k", "j", "down", "up", "j")
        assert r.app.house == 2
        await r.press(*["j"] * 9)
        assert r.app.house == 5


async def test_f8_goes_through_all_looks_and_comes_back() -> None:
    async with running() as r:
        looks = []
        for _ in range(4):
            await r.press("f8")
            looks.append(r.app.look)
        assert looks == ["dimmer", "light", "poor", "booth"]


async def test_q_leaves_the_desk_watching_or_stays() -> None:
    async with running() as r:
        await r.press("q", "s")
        assert not r.asking
        await r.press("q", "l")
        assert r.app.return_value == "leave"
        assert not r.source.ended


async def test_ending_the_watch_is_asked_twice() -> None:
    async with running() as r:
        await r.press("q", "e")
        assert not r.source.ended
        assert r.asking
        await r.press("y")
        assert r.app.return_value == "end"
        assert r.source.ended


async def test_ctrl_c_and_ctrl_q_ask_as_well() -> None:
    async with running() as r:
        for key in ("ctrl+q", "ctrl+c"):
            await r.press(key)
            assert r.asking
            await r.press("escape")


async def test_the_record_is_filtered_as_one_types() -> None:
    async with running() as r:
        for n, text in enumerate(("splice seen in house 3", "tea")):
            r.source.put(
                Happened(OperatorLine(seq=50_000 + n, at="", show_s=1.0, action="note", keys={"text": text}))
            )
        await r.press("f6")
        assert "splice" in r.text()
        assert "tea" in r.text()
        await r.press(*"SPL")
        assert "splice" in r.text()
        assert "tea" not in r.text()


async def test_an_action_that_the_desk_refuses_is_said_above_the_keys() -> None:
    async with running() as r:
        r.source.put(
            Happened(OperatorLine(seq=50_000, at="", show_s=None, action="arm", refused="the show runs"))
        )
        await r.settle()
        assert "arm refused: the show runs" in r.text("message")


async def test_a_click_on_a_tile_picks_its_house() -> None:
    async with running() as r:
        await r.pilot.click("#body", offset=(45, 10))
        assert r.app.house == 2


async def test_every_key_of_the_table_is_bound_and_stands_in_the_help() -> None:
    async with running(rehearsal=True, size=(160, 60)) as r:
        await r.press("f1")
        shown = r.text()
        bound = {b.binding.action for b in r.app.screen.active_bindings.values()}
        for key in KEYS:
            assert key.long[:40] in shown
            assert key.action in bound
            assert all(
                len(k) == 1 or k[0] == "f" or k in ("up", "down", "pageup", "pagedown", "enter", "escape")
                for k in key.keys.split(",")
            )


@pytest.mark.parametrize("name", NASTY)
async def test_hostile_names_are_drawn_and_never_interpreted_by_the_panel(name: str) -> None:
    async with running() as r:
        r.app.by = name
        await r.press("o")
        assert r.asking
        await r.press("escape", "s")
        assert r.sent() == [{"action": "silence"}]
