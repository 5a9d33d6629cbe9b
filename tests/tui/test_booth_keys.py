"""Keys that a booth lead stumbled over, pressed in the running program."""

from __future__ import annotations

import msgspec
import pytest
from screen_running import Running, running

from interlock.watch.state import CueLine, OperatorLine, State
from tui.draw.foot import draw_keys
from tui.draw.runs import plain
from tui.example.moments import flood, well
from tui.example.show import layout
from tui.keys import KEYS, REVIEW_KEYS
from tui.look.glyphs import FULL

LAY = layout(6)
SCREENS = ("house", "alarms", "cues", "record", "faults", "help")
WORDS = "masking wide, house lights out"


def with_cue(state: State, words: str, due_s: float, house: str = "4") -> State:
    cue = CueLine(seq=1, at="", show_s=1.0, house=house, cue=words, due_s=due_s, state="coming")
    return msgspec.structs.replace(state, cues=(cue,))


@pytest.mark.parametrize(
    "phase", ["waiting", "armed", "starting", "running", "stopped", "running-out", "ended"]
)
@pytest.mark.parametrize("screen", SCREENS)
def test_from_every_screen_the_way_back_to_the_board_is_shown_at_80_columns(screen: str, phase: str) -> None:
    for review in (False, True):
        shown = plain(
            draw_keys(
                80,
                1,
                FULL,
                rehearsal=True,
                screen=screen,
                phase=phase,
                review=review,
                typing=screen == "record",
            )
        )
        assert "F2 board" in shown
        assert "…" not in shown


def test_a_note_is_one_key_away_where_letters_are_searched_for_and_that_key_is_shown() -> None:
    assert "F9 note" in plain(draw_keys(80, 1, FULL, rehearsal=False, screen="record", typing=True))


def test_no_key_is_called_last_when_it_goes_to_the_one_before() -> None:
    assert not [k.short for k in (*KEYS, *REVIEW_KEYS) if k.short.startswith("last")]


async def test_f_says_where_the_faults_are_when_it_is_pressed_elsewhere_in_a_rehearsal() -> None:
    async with running("well", rehearsal=True) as r:
        await r.press("f")
        assert r.sent() == []
        assert "F7" in r.text("message")


@pytest.mark.parametrize("screen", ["f1", "f6"])
async def test_a_text_scrolled_to_its_end_comes_back_with_the_next_key(screen: str) -> None:
    async with running("well", size=(80, 24)) as r:
        for n in range(60):
            r.app.model.log.append(
                OperatorLine(seq=n, at="", show_s=float(n), action="note", keys={"text": f"note {n}"})
            )
        await r.press(screen, *["down" if screen == "f1" else "up"] * 90)
        end = r.text()
        assert ("licensed practice" in end) if screen == "f1" else ("note 0" in end)
        await r.press("up" if screen == "f1" else "down")
        assert r.text() != end


async def test_a_note_is_on_the_picked_alarm_unless_it_is_said_to_be_about_something_else() -> None:
    async with running("flood") as r:
        await r.press("u", "n", "x", "enter")
        picked = r.app.alarm
        assert picked is not None
        assert r.sent() == [{"action": "note", "text": "x", "subject": picked[1]}]
        await r.press("n", "x", "tab", *"house 3".replace(" ", "~"), "enter")  # over what stood there
        assert "expected a house" in _asked(r)
        await r.press("escape")


async def test_a_note_from_the_board_is_about_the_show_and_one_from_a_house_about_that_house() -> None:
    async with running("well") as r:
        await r.press("n", "x", "enter")
        assert r.sent() == [{"action": "note", "text": "x"}]
        await r.press("f3", "j", "n", "x", "enter")
        assert r.sent() == [{"action": "note", "text": "x", "subject": "3"}]
        await r.press("f2", "n", "x", "tab", *"loop", "space", *"4>3", "enter")
        assert r.sent() == [{"action": "note", "text": "x", "subject": "4>3"}]


def _asked(r: Running) -> str:
    return str(r.app.query_one("#ask-text").render())


async def test_a_tab_in_pasted_letters_parts_two_words_where_there_is_no_other_line() -> None:
    async with running("well") as r:
        await r.press("m", "1", "tab", "2")
        assert r.app.query_one("#ask-0").value == "1 2"  # type: ignore[attr-defined]
        assert "Tab" not in str(r.app.query_one("#ask-keys").render()), "it says no key that goes nowhere"
        await r.press("escape", "o")
        assert "Tab: next line" in str(r.app.query_one("#ask-keys").render())


async def test_what_the_list_must_cut_of_the_picked_houses_next_cue_stands_whole_above_the_keys() -> None:
    lay = layout(16)
    state = well(lay)
    show_s = state.show_s or 0.0
    async with running(with_cue(state, WORDS, show_s + 117.0), lay=lay, size=(80, 24)) as r:
        r.app.house = 0
        r.app.tick()
        assert WORDS not in r.text("body")
        assert f"house 4 in 1:57: {WORDS}" in r.text("message")
        r.app.say("armed")
        assert "armed" in r.text("message")
        await r.press("f4")
        r.clock.now += 10
        r.app.tick()
        assert WORDS not in r.text("message")


async def test_on_a_plain_console_the_panel_is_drawn_in_plain_letters_too() -> None:
    async with running("well", rehearsal=True) as r:
        while r.app.look != "poor":
            await r.press("f8")
        for key in ("o", "x", "e"):
            await r.press(key)
            rows = ["".join(s.text for s in strip) for strip in r.app.screen._compositor.render_strips()]
            assert r.asking
            assert "".join(rows).isascii(), [row for row in rows if not row.isascii()]
            await r.press("escape")


async def test_an_alarm_that_is_shelved_is_not_said_to_be_acknowledged() -> None:
    state = flood(LAY)
    shelved = next(a for a in state.alarms if a.state == "shelved")
    async with running(state) as r:
        r.app.alarm = (shelved.code, shelved.subject)
        await r.press("a")
        assert r.sent() == []
        assert "is shelved: nothing to acknowledge" in r.text("message")


async def test_what_comes_next_at_a_machine_that_stands_is_told_alike_in_the_banner_and_above_the_keys() -> (
    None
):
    lay = layout(16)
    state = with_cue(well(lay), WORDS, (well(lay).show_s or 0.0) + 117.0)
    stands = tuple(msgspec.structs.replace(h, run=False) if h.house == "4" else h for h in state.houses)
    async with running(msgspec.structs.replace(state, houses=stands), lay=lay, size=(80, 24)) as r:
        r.app.house = 0
        r.app.tick()
        assert "house 4 1:57 after it runs" in r.text("message")
        assert "1:57 after it runs" in r.text("banner")


async def test_what_is_said_above_the_keys_is_whole_at_80_columns() -> None:
    async with running("one-alarm", size=(80, 24)) as r:
        await r.press("enter")
        said = r.text("message")
        assert said.strip() == "every alarm is unfolded already: the list is folded only in a flood"
        r.clock.now += 10
        r.app.tick()
        assert "at this screen" in r.text("message")
