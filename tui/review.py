"""The screens over a recorded show, with a time line to move along. Nothing here acts: a record is what it is."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import AsyncIterator
from dataclasses import replace
from typing import ClassVar

from textual.app import App
from textual.binding import BindingType

from interlock.clock import Clock
from interlock.done import alarm_words
from interlock.watch.state import Frame
from tui.app import LonglaceApp
from tui.canvas import Canvas
from tui.draw.runs import Row, fit, safe, width_of
from tui.draw.timeline import draw_timeline, time_at
from tui.draw.view import View
from tui.draw.words import duration
from tui.keys import REVIEW_KEYS, bindings
from tui.look.glyphs import Glyphs
from tui.panel import Field, Question
from tui.recording import AlarmMark, Recording

SPEEDS = (0.25, 0.5, 1.0, 2.0, 4.0, 10.0, 30.0, 60.0, 300.0)
STEP_S = 10.0
LEAST_LINE = 31
"""Cells that are left to the time line while something is said."""
NOW_S = 0.05
"""Nearer than this a moment is the one at which one is."""


class _Still:
    """No desk: nothing comes by itself, and there is nobody to send anything to."""

    async def frames(self) -> AsyncIterator[Frame]:
        nothing: tuple[Frame, ...] = ()
        for frame in nothing:
            yield frame

    def send(self, action: dict[str, object]) -> None:
        raise AssertionError(f"a review has no desk to send {action} to")

    def end(self) -> None:
        raise AssertionError("a review has no desk to end")


class ReviewApp(LonglaceApp, inherit_bindings=False):
    """The screens over ``recording``. It begins at its beginning, standing."""

    BINDINGS: ClassVar[list[BindingType]] = [*App.BINDINGS, *bindings(REVIEW_KEYS)]
    review = True

    def __init__(self, recording: Recording, *, clock: Clock | None = None, look: str | None = None,
                 glyphs: Glyphs | None = None) -> None:  # fmt: skip
        super().__init__(_Still(), clock=clock, look=look, glyphs=glyphs)
        self.recording = recording
        self.t_s = 0.0
        self.speed = 1.0
        self.playing = False
        self._shown_s: float | None = None
        self._last_s = self.clock.now_s()
        self._gap = False
        self.model.layout = recording.layout

    def on_mount(self) -> None:
        """What is to be known of the record is said first. (The framework calls every class's own in turn.)"""
        if self.recording.remark:
            self.say(f"of this record: {self.recording.remark}")

    # Time

    def tick(self) -> None:
        """Move on with the clock, then paint."""
        now_s = self.clock.now_s()
        passed_s, self._last_s = max(0.0, now_s - self._last_s), now_s
        if self.playing:
            self.t_s = min(self.recording.length_s, self.t_s + passed_s * self.speed)
            self.playing = self.t_s < self.recording.length_s
        if self.t_s != self._shown_s:
            self._shown_s = self.t_s
            moment = self.recording.at(self.t_s)
            self.model.state = moment.state
            self.model.log = deque(moment.log, maxlen=self.model.log.maxlen)
            self.model.drifts = {name: deque(points) for name, points in moment.drifts.items()}
            self._gap = moment.gap
        self.model.heard_s = self.model.state_s = now_s
        super().tick()

    def jump(self, t_s: float) -> None:
        """To another moment of the record; the ends are ends."""
        self.t_s = max(0.0, min(self.recording.length_s, t_s))
        self.tick()

    def action_play(self) -> None:
        """p"""
        if not self.playing and self.t_s >= self.recording.length_s:
            self.t_s = 0.0  # play at the end begins again
        self.playing = not self.playing
        self._last_s = self.clock.now_s()
        self.tick()

    def action_pace(self, by: int) -> None:
        """e, f"""
        n = SPEEDS.index(self.speed) + by
        self.speed = SPEEDS[max(0, min(len(SPEEDS) - 1, n))]
        self.tick()

    def action_step(self, by: int) -> None:
        """h, l"""
        self.jump(self.t_s + by * STEP_S * self.speed)

    def action_go_to(self, share: float) -> None:
        """g, v"""
        self.jump(share * self.recording.length_s)

    def action_mark(self, by: int = 1) -> None:
        """b, y: to the alarm before or after."""
        times = [a.t_s for a in self.recording.alarms]
        n = bisect_right(times, self.t_s + NOW_S) if by > 0 else bisect_left(times, self.t_s - NOW_S) - 1
        if not 0 <= n < len(times):
            self.say("no later alarm in this record" if by > 0 else "no earlier alarm in this record")
            return
        found = self.recording.alarms[n]
        # Of several at one moment the first is the one that is named; they are all on the screen.
        first = bisect_left(times, found.t_s)
        self.playing = False
        self.alarm = (self.recording.alarms[first].code, self.recording.alarms[first].subject)
        self.jump(found.t_s)
        self.say(_named(self.recording.alarms[first], first + 1, len(times)))

    def action_go(self) -> None:
        """t"""

        def done(given: list[str]) -> str | None:
            wanted = _seconds(given[0])
            if wanted is None:
                return f"{given[0]!r}: expected a time as 1:02:33, 62:33 or 75 (seconds)"
            self.jump(wanted + (self.recording.zero_s or 0.0))
            return None

        zero = self.recording.zero_s is not None
        self.ask(Question("To which time?", "After show zero, as 1:02:33." if zero else
            "After the beginning of the record (the show never started), as 1:02:33.", done,
            fields=(Field("time", "" if self.model.state is None or self.model.state.show_s is None
                          else duration(self.model.state.show_s)),)))  # fmt: skip

    # What a record does not do

    def action_refuse(self, what: str) -> None:
        """Every key that acts on a running desk."""
        self.say(f"REVIEW: nothing was done: no {what} here")

    def action_leave(self) -> None:
        """q"""
        self.exit("leave")

    def _ring(self) -> None:
        """No bell: nobody must come."""

    # Drawing

    def view(self) -> View | None:
        """As of a desk, but marked for what it is."""
        view = super().view()
        if view is None:
            return None
        return replace(view, review=True, why="nothing was recorded then" if self._gap else "")

    def message_row(self, text: str, width: int) -> Row:
        """The time line; while something is said it has the right half."""
        said = self._said(text, width)
        line = draw_timeline(
            self.t_s, self.recording.length_s, self.recording.alarms, self.speed, self.playing, width - said, self.glyphs
        )  # fmt: skip
        return [(fit(safe(text, self.glyphs), said, self.glyphs), "strong"), *line] if said else line

    def _said(self, text: str, width: int) -> int:
        """Cells for what is said: half of the row, more if it needs more and a line is left."""
        text = safe(text, self.glyphs)
        return max(width // 2, min(width_of(text) + 1, width - LEAST_LINE)) if text else 0

    def on_canvas_clicked(self, event: Canvas.Clicked) -> None:
        """A click on the time line goes there, one on the board picks a house."""
        if event.canvas.id != "message":
            return  # the framework gives it to the board's own in turn
        said = self._said(self.message_shown, self.size.width)
        t_s = time_at(event.x - said, self.size.width - said, self.recording.length_s)
        if t_s is not None:
            self.jump(t_s)


def _named(a: AlarmMark, n: int, of: int) -> str:
    return f"alarm {n} of {of}: {alarm_words(a.code)} {a.subject}"


def _seconds(text: str) -> float | None:
    fields = text.strip().split(":")
    if not 1 <= len(fields) <= 3 or not all(f.strip().isdecimal() and len(f) < 7 for f in fields):
        return None
    seconds = 0.0
    for f in fields:
        seconds = seconds * 60 + int(f)
    return seconds
