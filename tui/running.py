"""The running screen: frames in, four paints a second, the bell. How it is drawn is in :mod:`tui.painted`, what the keys do
in :mod:`tui.app`.
"""

from __future__ import annotations

from textual import work
from textual.widgets import Input

from tui.draw.view import AlarmKey, View
from tui.painted import Leaving, PaintedScreen
from tui.panel import Panel, Question

__all__ = ["Leaving", "RunningScreen"]

TICK_S = 0.25
BELL_AGAIN_S = 4.0
LOST_BELLS = 4
"""So often the bell rings for a desk that is not heard."""


class RunningScreen(PaintedScreen):
    """One screen on a desk: it hears, rings, and asks."""

    _bell_s: float = -BELL_AGAIN_S
    _lost_bells: int = LOST_BELLS

    def on_mount(self) -> None:
        self.theme = self.look
        self.query_one(Panel).display = False
        self.query_one("#filter", Input).display = False
        self.screen.set_focus(None)
        self.set_interval(TICK_S, self.tick)
        self.listen()

    @work(exclusive=True)
    async def listen(self) -> None:
        """Fold frames as they come; an alarm, and the first state, are painted at once."""
        async for frame in self.source.frames():
            blank = self.model.state is None
            called = self.model.take(frame, self.clock.now_s())
            if called:
                self._ring()
            if called or (blank and self.model.state is not None):
                self.tick()
            if not called and self.model.answer:
                self.say(self.model.answer)
                self.model.answer = ""
        self.model.ended = self.model.farewell is not None

    def _ring(self) -> None:
        self._bell_s = self.clock.now_s()
        self.bell()

    def ring_if_due(self, view: View, now_s: float) -> None:
        """For a high alarm as long as it asks; for a desk that is gone a few times, since nobody can silence it."""
        if now_s - self._bell_s < BELL_AGAIN_S:
            return
        if view.lost_s is None:
            self._lost_bells = LOST_BELLS
            if self.model.asks_bell():
                self._ring()
        elif self._lost_bells and not view.ended:
            self._lost_bells -= 1
            self._ring()

    # What the keys need

    def send(self, action: str, **keys: object) -> None:
        """An operator action, with who does it and from where."""
        given: dict[str, object] = {
            "action": action,
            "by": self.by or None,
            "booth": self.booth or None,
            **keys,
        }
        self.source.send({k: v for k, v in given.items() if v is not None})

    def ask(self, question: Question) -> None:
        """Open the panel."""
        self.query_one(Panel).ask(question)
        self.tick()

    def since_seen_s(self, key: AlarmKey) -> float:
        """For how long an alarm has been on this screen."""
        now_s = self.clock.now_s()
        return now_s - self._seen.get(key, now_s)
