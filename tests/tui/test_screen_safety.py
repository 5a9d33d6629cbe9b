"""Text from outside on the running screen, the lost desk, the bell, the looks: what must hold whatever comes in."""

from __future__ import annotations

import unicodedata
from itertools import pairwise

import msgspec
import pytest
from screen_running import Running, running
from screen_states import NASTY

from interlock.watch.state import (
    ErrorLine,
    Farewell,
    FloodState,
    Fresh,
    Happened,
    Layout,
    OperatorLine,
    State,
)
from tui.example.moments import flood, well
from tui.example.show import layout
from tui.pictures import make


def hostile(name: str) -> tuple[Layout, State]:
    """The layout and a state in which every text that somebody else wrote is ``name``."""
    lay, state = layout(6, rehearsal=True), flood(layout(6))
    lay = msgspec.structs.replace(
        lay, title=name, timezone=name, record=name,
        houses=tuple(msgspec.structs.replace(h, name=name, booth=name, signals=((name, name, name),)) for h in lay.houses),
        parts=tuple(msgspec.structs.replace(p, name=name) for p in lay.parts),
    )  # fmt: skip
    return lay, msgspec.structs.replace(
        state, leads=name, booth=name,
        houses=tuple(msgspec.structs.replace(h, part=name) for h in state.houses),
        alarms=tuple(msgspec.structs.replace(a, text=name, subject=name, code=name) for a in state.alarms[:3]),
        cues=tuple(msgspec.structs.replace(c, cue=name) for c in state.cues),
        adapters=tuple(msgspec.structs.replace(a, adapter=name, text=name) for a in state.adapters),
        flood=FloodState(since_at=name, since_s=None, alarms=40, recent=20, ends_at=name),
    )  # fmt: skip


BIDI = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def harmless(r: Running) -> None:
    """No cell of the whole screen, the panel's included, holds what a terminal would obey; every row is as wide as it is."""
    for strip in r.app.screen._compositor.render_strips():
        assert strip.cell_length == r.app.size.width
        for char in strip.text:
            assert unicodedata.category(char) not in ("Cc", "Cs")
            assert char not in BIDI
    assert r.app.title == "Longlace", "the terminal's title is never anybody else's words"


@pytest.mark.parametrize("name", NASTY)
async def test_whatever_a_show_file_says_is_drawn_on_every_screen_and_never_interpreted(name: str) -> None:
    lay, state = hostile(name)
    async with running(state, lay=lay, rehearsal=True) as r:
        r.source.put(
            Happened(
                OperatorLine(seq=50_000, at=name, show_s=1.0, action="note", keys={"text": name}, by=name)
            )
        )
        for line in (
            *state.adapters,
            *state.alarms,
            *state.houses,
            *state.cues,
            ErrorLine(seq=50_001, at=name, show_s=None, text=name),
        ):
            r.source.put(Happened(line))
        await r.settle()
        for key in ("f1", "f3", "f4", "enter", "f5", "f6", "f7", "f2"):
            await r.press(key)
            harmless(r)
        r.source.put(Farewell(name))
        await r.settle()
        r.app.tick()
        harmless(r)
        for key in ("w", "escape", "z", "escape"):
            await r.press(key)
            harmless(r)
        await r.press("f2", "m", "escape", "v", "escape", "o", "escape")
        assert not r.asking


async def test_markup_in_a_title_stands_there_letter_by_letter() -> None:
    lay, state = hostile("[red]Lantern[/red]")
    async with running(state, lay=lay) as r:
        assert "[red]Lantern[/red]" in r.text("banner")


async def test_a_desk_that_is_not_heard_is_said_in_the_banner_and_nothing_is_shown_as_known() -> None:
    async with running() as r:
        r.clock.now += 4.0
        r.app.tick()
        assert "DESK NOT HEARD for 0:05" in r.text("banner")
        assert "not known" in r.text("banner")
        assert "●" not in r.text()
        r.source.put(Fresh(well(layout(6))))
        await r.settle()
        r.app.tick()
        assert "all well" in r.text("banner")


async def test_a_farewell_is_said_with_its_reason() -> None:
    async with running() as r:
        r.source.put(Farewell("this screen was too slow"))
        await r.settle()
        r.app.tick()
        assert "this screen was too slow" in r.text("banner").splitlines()[2]


async def test_a_watch_that_was_ended_by_somebody_else_is_no_desk_that_is_not_heard() -> None:
    async with running() as r:
        r.source.over("the watch was ended by Ilse; record evening.record")
        await r.settle()
        r.app.tick()
        banner = r.text("banner")
        assert "THE WATCH HAS ENDED" in banner
        assert "DESK NOT HEARD" not in banner
        assert "ended by Ilse; record evening.record" in banner
        assert "q leaves" in banner


async def test_the_bell_rings_a_few_times_for_a_desk_that_is_gone_and_again_for_the_next(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async with running() as r:
        rung = bells(r, monkeypatch)
        for times in (1, 2):
            for _ in range(40):
                r.clock.now += 1.0
                r.app.tick()
            assert len(rung) == times * 4
            assert all(4.0 <= b - a < 5.0 for a, b in pairwise(rung[-4:]))
            r.source.put(Fresh(well(layout(6))))
            await r.settle()
            r.app.tick()
        r.clock.now += 10.0
        r.source.over("ended")
        await r.settle()
        r.app.tick()
        assert len(rung) == 8, "a watch that was ended calls nobody"


async def test_a_screen_whose_desk_is_gone_offers_no_end_of_the_watch() -> None:
    async with running() as r:
        r.clock.now += 4.0
        await r.press("q", "e")
        assert r.asking
        assert not r.source.ended
        await r.press("l")
        assert r.app.return_value == "leave"


def bells(r: Running, monkeypatch: pytest.MonkeyPatch) -> list[float]:
    rung: list[float] = []
    monkeypatch.setattr(r.app, "bell", lambda: rung.append(r.clock.now))
    return rung


async def test_the_bell_rings_for_a_new_high_alarm_and_again_until_somebody_does_something(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async with running() as r:
        rung = bells(r, monkeypatch)
        alarm = msgspec.structs.replace(flood(layout(6)).alarms[0], seq=40_001)
        r.source.put(Happened(alarm))
        await r.settle()
        assert len(rung) == 1
        assert "RUN LOST" in r.text("banner")
        for _ in range(20):
            r.clock.now += 0.25
            r.source.put(Fresh(msgspec.structs.replace(well(layout(6)), alarms=(alarm,), seq=40_010)))
            await r.settle()
            r.app.tick()
        assert len(rung) == 2
        r.source.put(
            Fresh(msgspec.structs.replace(well(layout(6)), alarms=(alarm,), silenced=True, seq=40_020))
        )
        await r.settle()
        r.clock.now += 1.9
        r.app.tick()
        assert len(rung) == 2


async def test_medium_alarms_ring_no_bell(monkeypatch: pytest.MonkeyPatch) -> None:
    async with running() as r:
        rung = bells(r, monkeypatch)
        r.source.put(
            Happened(msgspec.structs.replace(flood(layout(6)).alarms[0], seq=40_001, priority="medium"))
        )
        await r.settle()
        assert rung == []


async def test_with_no_color_everything_is_drawn_and_nothing_in_colour(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with running("flood") as r:
        assert "RUN LOST house 2" in r.text("banner")
        used = {str(s.style.color) for s in r.app.query_one("#banner").render_line(1) if s.style}
        assert len(used) == 1


async def test_another_size_keeps_the_picked_house_alarm_and_screen() -> None:
    async with running("flood") as r:
        await r.press("j", "j", "u", "u", "f4")
        await r.pilot.resize_terminal(80, 24)
        await r.pilot.pause()
        await r.pilot.resize_terminal(200, 60)
        await r.pilot.pause()
        assert (r.app.house, r.app.alarm, r.app.screen_name) == (2, ("slack-lost", "2>1"), "alarms")


def test_the_pictures_are_the_same_bytes_every_time_and_fetch_nothing(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    one, two = (make(tmp_path_factory.mktemp("pictures")) for _ in range(2))
    assert len(one) >= 5
    for a, b in zip(one, two, strict=True):
        drawn = a.read_text(encoding="utf-8")
        assert drawn == b.read_text(encoding="utf-8")
        assert "http" not in drawn.replace("http://www.w3.org/2000/svg", "")
