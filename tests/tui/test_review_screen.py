"""A recorded show on the screens: the time line's keys, and that nothing there can act."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import msgspec
import pytest
from screen_running import Hands, Running

from interlock.watch.state import Layout
from tui.canvas import Canvas
from tui.draw.timeline import bar_of, draw_timeline, time_at
from tui.example.moments import MOMENTS
from tui.example.show import layout, state_at
from tui.example.source import Scripted
from tui.keys import KEYS, REVIEW_KEYS
from tui.look.glyphs import ASCII, FULL
from tui.recording import AlarmMark, Moment
from tui.review import ReviewApp

ZERO_S = 40.0


class Played:
    """The invented show as a recording of an hour: a trip at 1000 s, nothing kept from 2000 s to 2100 s."""

    def __init__(self, *, remark: str = "", alarms: tuple[float, ...] = (1000.0, 1000.0, 1500.0)) -> None:
        self.layout: Layout = layout(6)
        self.length_s = 3600.0
        self.zero_s: float | None = ZERO_S
        self.alarms = [AlarmMark(t, "high", "run-lost", str(n + 1)) for n, t in enumerate(alarms)]
        self.remark = remark
        self.asked: list[float] = []

    def at(self, t_s: float) -> Moment:
        self.asked.append(t_s)
        state = MOMENTS["flood"](self.layout) if 1000 <= t_s < 1100 else state_at(self.layout, t_s - ZERO_S)
        return Moment(msgspec.structs.replace(state, age_s=None), (), {}, gap=2000 <= t_s < 2100)


@asynccontextmanager
async def reviewing(
    recording: Played | None = None, size: tuple[int, int] = (120, 30)
) -> AsyncIterator[tuple[Running, ReviewApp]]:
    clock = Hands()
    app = ReviewApp(recording or Played(), clock=clock, glyphs=FULL)
    async with app.run_test(size=size) as pilot:
        run = Running(app, Scripted(), clock, pilot)
        await run.settle()
        app.tick()
        yield run, app


async def test_it_stands_at_the_beginning_and_says_plainly_that_it_is_a_review() -> None:
    async with reviewing() as (run, app):
        assert app.t_s == 0.0
        assert " REVIEW " in run.text("banner")
        assert "desk alive" not in run.text("banner"), "no desk is alive here"
        assert "recorded 20" in run.text("banner")
        assert "pause x1" in run.text("message")
        run.clock.now += 5.0
        app.tick()
        assert app.t_s == 0.0


async def test_playing_goes_on_with_the_clock_and_stands_at_the_end() -> None:
    async with reviewing() as (run, app):
        await run.press("p")
        run.clock.now += 10.0
        app.tick()
        assert app.t_s == 10.0
        await run.press("p")
        run.clock.now += 10.0
        app.tick()
        assert app.t_s == 10.0
        await run.press("end", "h", "space")
        run.clock.now += 60.0
        app.tick()
        assert app.t_s == 3600.0
        assert not app.playing
        await run.press("p")
        assert (app.t_s, app.playing) == (0.0, True), "play at the end begins again"


async def test_slower_and_faster_change_the_pace_between_a_quarter_and_three_hundred() -> None:
    async with reviewing() as (run, app):
        await run.press("f", "p")
        run.clock.now += 10.0
        app.tick()
        assert app.t_s == 20.0
        assert "play x2" in run.text("message")
        await run.press(*["e"] * 9)
        assert app.speed == 0.25
        await run.press(*["f"] * 12)
        assert app.speed == 300.0


async def test_back_and_on_go_ten_seconds_and_never_over_the_ends() -> None:
    async with reviewing() as (run, app):
        await run.press("h")
        assert app.t_s == 0.0
        await run.press("l", "right")
        assert app.t_s == 20.0
        await run.press("left")
        assert app.t_s == 10.0
        await run.press("v")
        assert app.t_s == 3600.0
        await run.press("l")
        assert app.t_s == 3600.0
        await run.press("g")
        assert app.t_s == 0.0


async def test_the_alarm_after_and_the_alarm_before_are_found_shown_and_named() -> None:
    async with reviewing() as (run, app):
        await run.press("p", "y")
        assert (app.t_s, app.playing) == (1000.0, False)
        assert "alarm 1 of 3: run lost 1" in run.text("message")
        assert "RUN LOST" in run.text("banner")
        await run.press("y")
        assert app.t_s == 1500.0, "two that came at one moment are one step"
        await run.press("y")
        assert app.t_s == 1500.0
        assert "no later alarm" in run.text("message")
        await run.press("b")
        assert app.t_s == 1000.0
        await run.press("b")
        assert app.t_s == 1000.0
        assert "no earlier alarm" in run.text("message")


async def test_a_time_after_show_zero_can_be_asked_for_and_a_wrong_one_is_refused() -> None:
    async with reviewing() as (run, app):
        await run.press("t")
        assert run.asking
        await run.press(*"0:10:0x")
        await run.press("enter")
        assert run.asking, "what was refused can be mended"
        await run.press("backspace", "0", "enter")
        assert not run.asking
        assert app.t_s == 600.0 + ZERO_S


ACTING = sorted({n for k in KEYS for n in k.keys.split(",") if k.group in ("Alarms", "Record", "The film")}
                & {n for k in REVIEW_KEYS if not k.group for n in k.keys.split(",")})  # fmt: skip


@pytest.mark.parametrize("key", [*ACTING, "r", "x", "o", "w"])
async def test_what_acts_on_a_desk_is_refused_and_says_so(key: str) -> None:
    recording = Played()
    async with reviewing(recording) as (run, app):
        await run.press("y")
        before = (app.t_s, app.by, app.booth)
        await run.press(key)
        assert not run.asking
        assert (app.t_s, app.by, app.booth) == before
        assert "REVIEW: nothing was done" in run.text("message")


def test_every_key_of_the_live_screens_is_either_taken_or_refused_in_a_review() -> None:
    live = {name for k in KEYS for name in k.keys.split(",") if name != "f7"}
    assert live <= {name for k in REVIEW_KEYS for name in k.keys.split(",")}
    assert {"a", "s", "n", "m", "z", "r", "x"} <= {*ACTING, "r", "x"}
    names = [name for k in REVIEW_KEYS for name in k.keys.split(",")]
    assert len(names) == len(set(names)), "no key twice"


async def test_nobody_is_called_by_the_bell_of_a_show_that_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    async with reviewing() as (run, app):
        rung: list[bool] = []
        monkeypatch.setattr(app, "bell", lambda: rung.append(True))
        await run.press("y")
        assert app.model.asks_bell(), "on a live screen it would ring"
        run.clock.now += 10.0
        app.tick()
        assert rung == []


async def test_a_moment_that_nobody_recorded_is_not_shown_as_known() -> None:
    async with reviewing() as (run, app):
        app.jump(2050.0)
        assert "NOTHING IS KNOWN of this moment" in run.text("banner")
        app.jump(2150.0)
        assert "NOTHING IS KNOWN" not in run.text("banner")


async def test_what_is_wrong_with_the_record_is_said_at_first() -> None:
    async with reviewing(Played(remark="cut off: \x1b[31mit has no end mark")) as (run, _):
        assert "of this record: cut off: it has no end mark" in run.text("message")


async def test_a_click_on_the_time_line_goes_there() -> None:
    async with reviewing() as (run, app):
        first, cells = bar_of(120, 3600.0)
        canvas = app.query_one("#message", Canvas)
        app.post_message(Canvas.Clicked(canvas, first + (cells - 1) // 2, 0))
        await run.settle()
        assert app.t_s == pytest.approx(1800.0, abs=3600.0 / cells)


async def test_every_screen_and_the_help_show_the_review_s_keys_and_no_others() -> None:
    async with reviewing(size=(120, 45)) as (run, _):
        for key in ("f1", "f2", "f3", "f4", "f5", "f6"):
            await run.press(key)
            assert " REVIEW " in run.text("banner")
        await run.press("f1")
        assert "let the recorded show run" in run.text()
        assert "acknowledge  " not in run.text()
        assert "faults" not in run.text("keys")


@pytest.mark.parametrize("key", ["q", "f10"])
async def test_leaving_asks_nothing_because_nothing_ends(key: str) -> None:
    async with reviewing() as (run, app):
        await run.press(key)
        assert app.return_value == "leave"


@pytest.mark.parametrize("g", [FULL, ASCII])
@pytest.mark.parametrize("width", [1, 10, 40, 80, 240])
@pytest.mark.parametrize("t_s", [0.0, 1800.0, 3600.0])
def test_the_time_line_is_as_wide_as_it_should_be_and_shows_every_kind_of_alarm(
    g: object, width: int, t_s: float
) -> None:
    alarms = [AlarmMark(900.0, p, "x", "y") for p in ("high", "low")] + [
        AlarmMark(2700.0, "medium", "x", "y")
    ]
    row = draw_timeline(t_s, 3600.0, alarms, 1.0, False, width, g)  # type: ignore[arg-type]
    assert sum(len(text) for text, _ in row) == width
    if width >= 80:
        styles = [style for _, style in row]
        assert styles.count("high-mark") == styles.count("medium-mark") == 1, "the worst of one cell is seen"
        assert styles.count("pick") == 1


def test_the_time_line_of_an_empty_record_does_not_divide_by_nothing() -> None:
    row = draw_timeline(0.0, 0.0, [AlarmMark(0.0, "high", "x", "y")], 1.0, False, 80, FULL)
    assert sum(len(text) for text, _ in row) == 80
    assert time_at(0, 80, 0.0) is None
