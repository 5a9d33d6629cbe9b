"""What a person needs next is within reach: the keys of this moment at the foot, the whole of a cue's words, a way back."""

from __future__ import annotations

import msgspec
import pytest
from screen_running import running
from textual.widgets import Input

from interlock.watch.state import CueLine, Happened, Line, OperatorLine, State
from tui.draw.banner import draw_banner
from tui.draw.cues import cue_rows, draw_cue_sheet, draw_cues, sheet_rows, still
from tui.draw.foot import draw_keys
from tui.draw.log import draw_log
from tui.draw.runs import plain
from tui.draw.view import View, make_view
from tui.example.moments import well
from tui.example.show import layout
from tui.look.glyphs import FULL
from tui.places import places

LAY = layout(6)
LONG = "masking wide, house lights to half, and tell the floor manager by telephone that the film has begun"


def with_cues(*cues: tuple[str, float, str]) -> View:
    """Of house 4: (words, due in so many seconds, state)."""
    state: State = well(LAY)
    assert state.show_s is not None
    lines = tuple(
        CueLine(
            seq=n, at=state.at, show_s=state.show_s, house="4", cue=cue, due_s=state.show_s + in_s, state=how
        )  # type: ignore[arg-type]
        for n, (cue, in_s, how) in enumerate(cues)
    )
    return make_view(LAY, msgspec.structs.replace(state, cues=lines), age_s=0.1)


def foot(phase: str, width: int = 80, *, typing: bool = False) -> str:
    return plain(draw_keys(width, 1, FULL, rehearsal=False, screen="board", phase=phase, typing=typing))


def test_the_foot_of_a_narrow_screen_shows_the_keys_of_the_phase() -> None:
    assert "r arm" in foot("waiting")
    assert "r arm" in foot("armed")
    assert "x stop all" in foot("armed")
    for phase in ("starting", "running", "running-out"):
        assert "x stop all" in foot(phase)
        assert "r arm" not in foot(phase), "nobody disarms a show that runs"
    assert "t restart" in foot("stopped")
    assert "c reset" in foot("stopped")
    assert "x stop all" not in foot("ended")
    for phase in ("waiting", "armed", "starting", "running", "stopped", "running-out", "ended"):
        assert "F1 help" in foot(phase)
        assert "q quit" in foot(phase)


def test_where_one_types_no_letter_is_offered_as_a_key() -> None:
    text = foot("running", 200, typing=True)
    assert text.startswith("letters filter, up down scroll, Esc: keys again")
    assert "F2 board" in text or "F4 alarms" in text
    assert "acknowledge" not in text
    assert "stop all" not in text


async def test_the_record_says_that_letters_are_searched_for_and_escape_leads_back_to_the_board() -> None:
    async with running("flood", size=(80, 24)) as r:
        await r.press("f6", "a")
        r.app.tick()
        assert r.app.query_one("#filter", Input).value == "a"
        assert r.sent() == []
        assert "letters filter" in r.text("keys")
        await r.press("escape")
        assert r.app.screen_name == "board"
        assert "a acknowledge" in r.text("keys")
        await r.press("a")
        assert r.sent()[0]["action"] == "ack"


async def test_while_the_panel_asks_no_key_is_shown_that_does_nothing() -> None:
    async with running("flood", size=(80, 24)) as r:
        await r.press("x")
        assert "acknowledge" not in r.text("keys")
        assert r.text("keys").strip() == ""
        await r.press("n")
        r.app.tick()
        assert "a acknowledge" in r.text("keys")


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_banner_cuts_a_cues_words_and_never_where_and_when(width: int) -> None:
    row = plain(draw_banner(with_cues((LONG, -1.0, "due")), width)).splitlines()[2]
    assert ", house 4 NOW" in row
    assert "masking" in row
    later = plain(draw_banner(with_cues((LONG, 61.0, "coming")), width)).splitlines()[2]
    assert ", house 4 in 1:01" in later


def words_of(block: str) -> str:
    return " ".join(block.split())


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_cue_sheet_tells_all_words_of_a_cue(width: int) -> None:
    view = with_cues((LONG, 30.0, "coming"), ("open-dowser", 31.0, "coming"))
    assert LONG in words_of(plain(draw_cue_sheet(view, width, 20, None)))


def test_the_board_tells_all_words_of_a_cue_once_it_is_due() -> None:
    later = with_cues((LONG, 30.0, "coming"))
    told = plain([row for row, _ in cue_rows(later, 40, 9)])
    assert told.count("\n") == 1
    assert "…" in told, "what is cut is seen to be cut"
    now = with_cues((LONG, -0.5, "due"))
    assert LONG in words_of(plain(draw_cues(now, 56, 9)))


@pytest.mark.parametrize("height", [4, 6, 9, 14, 23])
def test_every_cue_of_a_long_sheet_can_be_picked_and_is_then_seen_whole(height: int) -> None:
    view = with_cues(*[(f"{n} {LONG}" if n % 3 else "lamp-off", 10.0 * n, "coming") for n in range(12)])
    for key, _ in still(view.state.cues):
        rows = sheet_rows(view, 70, height, key)
        assert len(rows) <= height
        picked = [row for row, of in rows if of == key]
        assert picked, key
        if height >= 6:
            whole = words_of(plain(picked))
            assert key[1] in whole or "lamp off" in whole


def test_a_wide_board_gives_the_cues_what_the_alarms_have_no_use_for() -> None:
    assert places(120, 30, 6).cues_width == 46
    assert places(200, 60, 6).cues_width > 70


def banner_of(plan_s: float, *, turning: bool = False, disarmed: bool = False, width: int = 80) -> str:
    """The banner's second row of a desk that waits."""
    state = well(LAY)
    houses = tuple(msgspec.structs.replace(h, run=turning and n < 2) for n, h in enumerate(state.houses))
    state = msgspec.structs.replace(state, phase="waiting", show_s=None, plan_s=plan_s, houses=houses)
    view = make_view(LAY, state, age_s=0.1, disarmed=disarmed)
    return plain(draw_banner(view, width)).splitlines()[1]


def test_a_desk_that_is_not_armed_never_says_that_all_is_well() -> None:
    assert "not armed: it arms itself in 1:30" in banner_of(-120.0)
    jogged = banner_of(-120.0, turning=True)
    assert "not armed: 2 motors turn, it arms itself in 1:30" in jogged
    assert "r arms" not in jogged, "while they thread nobody is to be led to arm"
    assert "NOT ARMED: no loop is judged; r arms" in banner_of(-120.0, disarmed=True)
    assert "NOT ARMED: no loop is judged; r arms" in banner_of(48 * 3600.0), "another evening's file"
    assert "NOT ARMED: 2 motors turn, no loop is judged; r arms" in banner_of(48 * 3600.0, turning=True)
    assert "all well" not in banner_of(-120.0) + banner_of(100_000.0) + banner_of(-5.0, turning=True)


async def test_the_screen_knows_whether_the_desk_was_disarmed() -> None:
    async with running(rehearsal=True) as r:
        assert not r.app.model.disarmed
        line = OperatorLine(seq=40_001, at="2026-12-05T20:50:06.000Z", show_s=None, action="disarm")
        for action, refused, known in (("disarm", "no", False), ("disarm", None, True), ("note", None, True),
                                       ("arm", None, False)):  # fmt: skip
            r.source.put(Happened(msgspec.structs.replace(line, action=action, refused=refused)))
            await r.settle()
            assert r.app.model.disarmed is known


def record_of(*notes: str) -> list[Line]:
    return [
        OperatorLine(
            seq=n, at="2026-12-05T20:50:06.000Z", show_s=float(n), action="note", keys={"text": text}
        )
        for n, text in enumerate(notes)
    ]


def test_the_record_tells_all_words_of_a_note() -> None:
    lines = record_of("short", LONG, "last")
    text = plain(draw_log(make_view(LAY, well(LAY), age_s=0.1), lines, 70, 12))
    assert LONG in words_of(text)
    assert text.rstrip().endswith("last")


@pytest.mark.parametrize("height", [1, 4, 5, 9, 40])
def test_every_line_of_the_record_can_be_scrolled_to_and_the_newest_stands_at_the_foot(height: int) -> None:
    lines = record_of(*[f"note {n} {LONG if n % 2 else ''}." for n in range(12)])
    view = make_view(LAY, well(LAY), age_s=0.1)
    drawn = [draw_log(view, lines, 60, height, scroll) for scroll in (*range(12), 99)]
    assert all(len(block) == height for block in drawn)
    assert words_of(plain(drawn[0])).endswith("begun.")
    if height >= 4:  # a note is as high
        seen = "\n".join(map(plain, drawn))
        assert all(f"note {n} " in seen for n in range(12))
    assert "note 0 " in plain(drawn[-1])
    rows = [row for row in plain(drawn[-1]).splitlines() if row.strip()]
    assert len(rows) == min(
        height, len([row for row in plain(draw_log(view, lines, 60, 99)).splitlines() if row.strip()])
    )
