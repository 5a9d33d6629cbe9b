"""A cue that falls due before the motors start is told as that, never as so long after the start."""

from __future__ import annotations

import msgspec
import pytest

from interlock.watch.state import CuePhase
from tui.draw.banner import draw_banner
from tui.draw.cues import draw_cue_sheet, draw_cues
from tui.draw.house import next_words
from tui.draw.runs import plain
from tui.draw.view import View, make_view
from tui.example.moments import before
from tui.example.show import layout
from tui.look.glyphs import ASCII, FULL

LAY = layout(6)


def early(state: CuePhase, due_s: float = -32.4) -> View:
    """Before show zero, with one cue."""
    moment = before(LAY)
    cue = msgspec.structs.replace(
        moment.cues[0], house="4", cue="strike-lamp", due_s=due_s, state=state, show_s=None
    )
    return make_view(LAY, msgspec.structs.replace(moment, cues=(cue,)), age_s=0.1)


def told(view: View) -> tuple[str, str, str]:
    """Banner, list and cue sheet."""
    return (
        plain(draw_banner(view, 120)),
        plain(draw_cues(view, 60, 5)),
        plain(draw_cue_sheet(view, 60, 5, None)),
    )


def test_it_counts_from_the_start_backwards() -> None:
    banner, rows, sheet = told(early("coming"))
    assert "strike lamp, house 4 at 0:32 before the start" in banner
    assert f"{FULL.minus}0:32" in rows
    assert f"{FULL.minus}0:32" in sheet
    assert "from start" in sheet
    for words in (banner, rows, sheet):
        assert "+0:32" not in words
        assert "after" not in words


def test_once_it_is_due_it_is_now() -> None:
    for words in told(early("due")):
        assert "NOW" in words


@pytest.mark.parametrize(
    ("state", "due_s", "words"),
    [("coming", -32.4, f"{FULL.minus}0:32"), ("due", -32.4, "now"), ("coming", 10.0, "+0:10")],
)
def test_a_houses_tile_says_the_same(state: CuePhase, due_s: float, words: str) -> None:
    row = next_words(early(state, due_s), "4", 24, short=False)
    assert "".join(text for text, _ in row).split()[-1] == words


def test_what_comes_after_the_start_is_said_as_before() -> None:
    banner, rows, sheet = told(early("coming", 10.0))
    assert "at 0:10 after the start" in banner
    assert "+0:10" in rows
    assert "after start" in sheet


def test_a_minus_is_there_on_a_poor_console() -> None:
    assert ASCII.minus == "-"
