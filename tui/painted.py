"""The screen as it is drawn: its parts, and what is painted on each of them. What it hears is in :mod:`tui.running`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Literal

from textual.app import App, ComposeResult
from textual.binding import BindingType
from textual.containers import Container
from textual.events import Resize
from textual.theme import Theme
from textual.widgets import Input

from interlock.clock import Clock, SystemClock
from tui.canvas import Canvas
from tui.draw.banner import draw_banner
from tui.draw.foot import draw_keys
from tui.draw.house import next_whole
from tui.draw.log import filtered
from tui.draw.runs import Block, Row, fit, safe, width_of
from tui.draw.view import AlarmKey, View, key_of, make_view
from tui.faults import Fault, usual_faults
from tui.keys import bindings
from tui.look.glyphs import Glyphs, choose
from tui.look.palette import PALETTES, Palette
from tui.model import Model
from tui.panel import Panel
from tui.screens import NAMES, Own, draw_screen, next_width
from tui.source import Source

Leaving = Literal["leave", "end"]
MESSAGE_S = 6.0
CANVASES = 4
"""Banner, body, message, keys."""


class PaintedScreen(App[Leaving]):
    """One screen. Returns ``leave`` (the desk watches on) or ``end``.

    ``by`` and ``booth`` stand beside every action until ``who I am`` changes them. ``faults``: what a rehearsal can be
    given by hand, each as (words, keys of a scenario's line). ``look``: a name of :data:`tui.look.palette.PALETTES`.
    """

    CSS_PATH = "longlace.tcss"
    ENABLE_COMMAND_PALETTE = False
    AUTO_FOCUS = None  # letters are keys here; a line of text gets them only when it is asked for
    BINDINGS: ClassVar[list[BindingType]] = bindings()
    TITLE = "Longlace"
    review: ClassVar[bool] = False
    """It shows a record, not a desk."""

    def __init__(
        self, source: Source, *, clock: Clock | None = None, by: str = "", booth: str = "", faults: Sequence[Fault] = (),
        look: str | None = None, glyphs: Glyphs | None = None,
    ) -> None:  # fmt: skip
        super().__init__()
        self.source = source
        self.clock = clock or SystemClock()
        self.by, self.booth = by, booth
        self.faults = tuple(faults)
        self.glyphs = glyphs or choose()
        self.look = look or ("poor" if self.glyphs.ascii else "booth")
        self.model = Model(heard_s=self.clock.now_s())
        self.house = 0
        self.alarm: AlarmKey | None = None
        self.opened: frozenset[str] = frozenset()
        self.screen_name = "board"
        self.own: dict[str, Own] = {name: Own() for name in NAMES}
        self._seen: dict[AlarmKey, float] = {}
        self._message = ("", 0.0)
        self._log_key: tuple[int, str] = (-1, "")
        for palette in PALETTES.values():
            self.register_theme(_theme(palette))

    def compose(self) -> ComposeResult:
        styles = self.palette.styles(colour=not self.no_color)
        yield Canvas(styles, id="banner")
        with Container(id="middle"):
            yield Input(id="filter", placeholder="filter: type words", compact=True, max_length=100)
            yield Canvas(styles, id="body")
            yield Panel(self.glyphs)
        yield Canvas(styles, id="message")
        yield Canvas(styles, id="keys")

    @property
    def palette(self) -> Palette:
        """The look that is on."""
        return PALETTES[self.look]

    def view(self) -> View | None:
        """What is drawn now; None until the desk has spoken."""
        state, layout = self.model.newest(), self.model.layout
        if state is None or layout is None:
            return None
        now_s = self.clock.now_s()
        return make_view(
            layout, state, g=self.glyphs,
            house=min(self.house, max(0, len(layout.houses) - 1)), alarm=self.alarm,
            opened=self.opened,
            hollow=now_s % 1.0 >= 0.5, lost_s=self.model.lost_s(now_s), why=self.model.farewell or "",
            ended=self.model.ended, disarmed=self.model.disarmed,
            age_s=self.model.age_s(now_s), by=self.by, booth=self.booth,
        )  # fmt: skip

    def tick(self) -> None:
        """Paint what has changed."""
        # A timer or a frame may come before the screen is built, or while it is being taken down.
        if not self.is_running or len(self.query(Canvas)) < CANVASES or not self.size.width:
            return
        now_s = self.clock.now_s()
        view = self.view()
        width = self.size.width
        if view is None:
            waiting = f" looking for the desk{': ' + self.model.farewell if self.model.farewell else ''}"
            self._canvas("banner").paint([[(fit(safe(waiting, self.glyphs), width, self.glyphs), "strong")]])
        else:
            self._canvas("banner").paint(draw_banner(view, width))
            self._canvas("body").paint(self._body(view))
            fresh = {key_of(a): self._seen.get(key_of(a), now_s) for a in view.state.alarms}
            self._seen = fresh
            if self.alarm is not None and self.alarm not in fresh:
                self.alarm = None
            self.ring_if_due(view, now_s)
        self._paint_foot(view, width)

    def ring_if_due(self, view: View, now_s: float) -> None:
        """Called at every paint; what is only looked at rings for nobody."""

    def faults_here(self) -> tuple[Fault, ...]:
        """What can be thrown into this rehearsal: the list that was given, else the usual ones on the picked house."""
        if self.faults or self.model.layout is None or self.model.state is None:
            return self.faults
        return usual_faults(self.model.layout, self.model.state, self.house)

    def _body(self, view: View) -> Block:
        own = self.own[self.screen_name]
        if self.screen_name == "faults":
            own.faults = tuple(words for words, _ in self.faults_here())
        if self.screen_name == "record":
            key = (len(self.model.log) and self.model.log[-1].seq, self.query_one("#filter", Input).value)
            if key != self._log_key:
                self._log_key = key
                own.lines = tuple(filtered(self.model.log, self.model.layout, key[1]))
        body = self._canvas("body")
        return draw_screen(self.screen_name, view, self.model, own, body.size.width, body.size.height)

    def _paint_foot(self, view: View | None, width: int) -> None:
        text = self.message_shown or self._cut_cue(view)
        self._canvas("message").paint([self.message_row(text, width)])
        keys, state = self._canvas("keys"), self.model.newest()
        if self.query_one(Panel).question is not None:
            keys.paint([])  # the panel says which keys there are while it asks
            return
        keys.paint(
            draw_keys(
                width, max(1, keys.size.height), self.glyphs,
                rehearsal=self.model.layout is not None and self.model.layout.rehearsal,
                screen=self.screen_name, review=self.review, phase=state.phase if state is not None else "running",
                typing=self.screen.focused is self.query_one("#filter", Input),
            )
        )  # fmt: skip

    def _cut_cue(self, view: View | None) -> str:
        """Of the picked house, what comes next: with all its words where the board had to cut them."""
        if (
            view is None
            or self.review
            or self.screen_name not in ("board", "house")
            or not view.layout.houses
        ):
            return ""
        size = self._canvas("body").size
        cells = next_width(view, self.screen_name, size.width, size.height)
        return next_whole(view, view.layout.houses[view.house].house, cells)

    @property
    def message_shown(self) -> str:
        """What was last said, for as long as it stands."""
        text, at_s = self._message
        return text if self.clock.now_s() - at_s <= MESSAGE_S else ""

    def message_row(self, text: str, width: int) -> Row:
        """The row above the keys: what was last said, and who sits here."""
        who = f"at this screen: {self.by}" if self.by else "w: say who you are"
        who += f", {self.booth}" if self.booth else ""
        room = max(0, width - width_of(safe(who, self.glyphs)) - 2)
        if self.message_shown and width_of(safe(text, self.glyphs)) > room:
            room = width  # for the few seconds that it stands it is wanted more than who sits here
        return [(fit(safe(text, self.glyphs), room, self.glyphs), "strong" if self.message_shown else "text"),
            (fit("  " + safe(who, self.glyphs), width - room, self.glyphs), "dim")]  # fmt: skip

    def _canvas(self, name: str) -> Canvas:
        return self.query_one(f"#{name}", Canvas)

    def on_resize(self, event: Resize) -> None:
        """Another size: everything in its new place."""
        self.set_class(event.size.height >= 30, "tall")
        self.call_after_refresh(self.tick)

    def say(self, text: str) -> None:
        """One line above the keys, for a few seconds."""
        self._message = (text, self.clock.now_s())
        self.tick()


def _theme(palette: Palette) -> Theme:
    text, pick = palette.inks["text"], palette.inks["pick"]
    return Theme(
        name=palette.name, primary=text.colour, secondary=text.colour, foreground=text.colour, background=palette.ground,
        surface=pick.ground, panel=pick.ground, accent=pick.colour, warning=palette.inks["medium"].ground,
        error=palette.inks["high"].ground, success=text.colour, dark=palette.dark,
    )  # fmt: skip
