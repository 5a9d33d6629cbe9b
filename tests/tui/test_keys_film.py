"""The keys for notes and for the film, pressed on the running program."""

from __future__ import annotations

import msgspec
import pytest
from screen_running import running

from tui.example.moments import well
from tui.example.show import layout


async def test_n_and_f9_write_a_note_in_which_letters_are_letters() -> None:
    async with running() as r:
        for key in ("n", "f9"):
            await r.press(key, *"aqx", "space", "z", "f2")
            assert r.sent() == [{"action": "note", "text": "aqx z"}]


async def test_an_empty_note_is_not_sent() -> None:
    async with running() as r:
        await r.press("n", "enter")
        assert r.sent() == []
        assert r.asking


@pytest.mark.parametrize(
    ("typed", "frame"),
    [
        ([], 0.0),
        (list("1200"), 1200.0),
        (["1", "1", "8", "plus", "0", "8"], 1896.0),
        (list("Please"), 1896.0),
    ],
)
async def test_m_marks_the_picked_house_by_frame_footage_or_part(typed: list[str], frame: float) -> None:
    async with running() as r:
        await r.press("j", "m", *typed, "enter")
        assert r.sent() == [], "twenty minutes from where the desk has it: it may be a slip"
        assert "after that. Sure?" in str(r.app.query_one("#ask-text").render())
        await r.press("enter")
        assert r.sent() == [{"action": "mark", "house": "3", "frame": frame}]
        assert not r.asking


async def test_a_mark_near_where_the_desk_has_the_house_is_sent_at_once() -> None:
    async with running() as r:
        state = r.app.model.newest()
        assert state is not None
        at = round(state.houses[1].frame or 0.0) + 30
        await r.press("j", "m", *str(at), "enter")
        assert r.sent() == [{"action": "mark", "house": "3", "frame": float(at)}]


async def test_a_mark_that_no_print_has_is_refused_where_it_is_typed() -> None:
    async with running() as r:
        await r.press("j", "m", *"999999999", "enter", "enter")
        assert r.asking
        assert "the print ends at frame" in str(r.app.query_one("#ask-text").render())
        assert r.sent() == []


async def test_after_another_frame_was_typed_a_far_mark_is_doubted_anew() -> None:
    async with running() as r:
        await r.press("j", "m", *"1200", "enter", "0", "enter")
        assert r.sent() == []
        await r.press("enter")
        assert r.sent() == [{"action": "mark", "house": "3", "frame": 12000.0}]


async def test_a_mark_that_cannot_be_read_says_why_and_sends_nothing() -> None:
    async with running() as r:
        await r.press("m", *"Lantern", "enter")
        assert r.sent() == []
        assert "2 parts begin like that" in str(r.app.query_one("#ask-text").render())


async def test_z_rezeros_and_p_parts_the_loop_behind_the_picked_house() -> None:
    async with running() as r:
        await r.press("z", "minus", "4", "enter")
        assert r.sent() == [{"action": "rezero", "link": "4>3", "drift_fr": -4.0}]
        await r.press("j", "p")
        assert r.sent() == []
        await r.press("y")
        assert r.sent() == [{"action": "parted", "link": "3>2"}]


async def test_a_drift_beyond_the_loops_limit_is_doubted_once() -> None:
    async with running() as r:
        await r.press("z", *"480", "enter")
        assert r.sent() == []
        assert "48 frames to spill" in str(r.app.query_one("#ask-text").render())
        await r.press("enter")
        assert r.sent() == [{"action": "rezero", "link": "4>3", "drift_fr": 480.0}]


async def test_behind_the_last_house_there_is_no_loop_to_rezero_or_part() -> None:
    async with running() as r:
        await r.press(*["j"] * 9, "z", "p")
        assert not r.asking
        assert "no loop" in r.text("message")


async def test_l_relaces_the_picked_house() -> None:
    async with running() as r:
        await r.press("l", "8", "enter")
        assert r.sent() == [{"action": "relace", "house": "4", "n_fr": 8.0}]


async def test_d_asks_and_turns_a_house_dark_and_light_again() -> None:
    async with running() as r:
        await r.press("d", "n")
        assert r.sent() == []
        await r.press("d", "y")
        assert r.sent() == [{"action": "dark", "house": "4"}]
    state = well(layout(6))
    dark = msgspec.structs.replace(state.houses[0], dark=True)
    async with running(msgspec.structs.replace(state, houses=(dark, *state.houses[1:]))) as r:
        await r.press("d", "y")
        assert r.sent() == [{"action": "light", "house": "4"}]
