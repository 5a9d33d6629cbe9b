"""The screen as a program: what every key does. It draws and asks; the desk decides."""

from __future__ import annotations

from textual.widgets import Input

from tui.acts import Acts
from tui.acts_alarms import next_key
from tui.canvas import Canvas
from tui.draw.cues import CueKey
from tui.draw.folds import fold_name, folds_of, pickable
from tui.draw.view import key_of
from tui.faults import Fault
from tui.look.glyphs import ASCII, choose
from tui.look.palette import ORDER
from tui.panel import Panel
from tui.pointing import pointed
from tui.running import Leaving, RunningScreen
from tui.screens import next_cue

__all__ = ["Fault", "Leaving", "LonglaceApp"]

_IN_THE_PANEL = frozenset({"focus_next", "focus_previous"})
"""The framework's own actions that its lines of text need."""


class LonglaceApp(RunningScreen):
    """One screen on a desk. Run it: it returns ``leave`` (the desk watches on) or ``end``, None if the terminal went away."""

    @property
    def acts(self) -> Acts:
        """The operator actions behind the keys."""
        return Acts(self)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While the panel asks, keys answer it and do nothing else; what is for rehearsals only is there only in them."""
        if not self.query(Panel):
            return True
        if self.query_one(Panel).question is not None:
            return action in _IN_THE_PANEL
        rehearsal = self.model.layout is not None and self.model.layout.rehearsal
        return rehearsal or not (action == "speed" or (action == "show" and parameters == ("faults",)))

    def action_show(self, name: str) -> None:
        """Another screen; the banner stays."""
        self.screen_name = name
        box = self.query_one("#filter", Input)
        box.display = name == "record"
        self.screen.set_focus(box if name == "record" else None)
        self.tick()
        self.call_after_refresh(self.tick)  # and once more in its own place, if that has another size

    def on_input_changed(self, event: Input.Changed) -> None:
        """The record is filtered as one types."""
        if event.input.id == "filter":
            self.own["record"].scroll = 0
            self.tick()

    def action_move(self, by: int) -> None:
        """The next house along the film, or further down a text."""
        own = self.own[self.screen_name]
        if self.screen_name == "faults":
            own.fault = max(0, min(len(own.faults) - 1, own.fault + by))
        elif self.screen_name == "alarms":
            self.action_alarm(by)
        elif self.screen_name == "cues":
            view = self.view()
            self.pick_cue(None if view is None else next_cue(view, own.cue, by))
        elif self.screen_name in ("help", "record"):
            own.scroll = max(0, own.scroll + (by if self.screen_name == "help" else -by))
        elif self.model.layout is not None:
            self.house = max(0, min(len(self.model.layout.houses) - 1, self.house + by))
        self.tick()

    def action_alarm(self, by: int) -> None:
        """The next alarm."""
        state = self.model.newest()
        self.alarm = next_key([] if state is None else pickable(state, self.opened), self.alarm, by)
        self.tick()

    def action_open(self) -> None:
        """Enter: the fold of the picked alarm, while a flood stands."""
        state = self.model.newest()
        if state is None or state.flood is None:
            self.say("every alarm is unfolded already: the list is folded only in a flood")
            return
        folds = [f for f in folds_of(state) if f.rest]
        fold = next((f for f in folds if self.alarm in [key_of(a) for a in f.members]), None)
        if fold is None:
            self.say("pick a fold with u or i first: an alarm that stands alone has nothing to open")
            return
        self.alarm = key_of(fold.head)
        self.opened ^= {fold_name(fold)}
        self.action_show("alarms")

    def pick_cue(self, key: CueKey | None) -> None:
        """A line of the cue sheet, and with it its house."""
        self.own["cues"].cue = key
        if key is not None and self.model.layout is not None:
            names = [h.house for h in self.model.layout.houses]
            self.house = names.index(key[0]) if key[0] in names else self.house

    def action_look(self) -> None:
        """The next look."""
        self.look = ORDER[(ORDER.index(self.look) + 1) % len(ORDER)]
        self.theme = self.look
        poor = self.look == "poor"
        self.glyphs = self.query_one(Panel).glyphs = ASCII if poor else choose()
        for canvas in self.query(Canvas):
            canvas.restyle(self.palette.styles(colour=not self.no_color))
        self.say(self.palette.title)

    async def action_quit(self) -> None:
        """Whatever the framework calls quitting asks first."""
        self.action_leave()

    def action_help_quit(self) -> None:
        """Ctrl+C as well."""
        self.action_leave()

    def action_ack(self) -> None:
        """a"""
        self.acts.ack()

    def action_silence(self) -> None:
        """s"""
        self.send("silence")
        self.say("bell off until the next alarm; nothing is acknowledged by it")

    def action_shelve(self) -> None:
        """v"""
        self.acts.shelve()

    def action_reset(self) -> None:
        """c"""
        self.acts.reset()

    def action_reset_group(self) -> None:
        """g"""
        self.acts.reset_group()

    def action_note(self) -> None:
        """n"""
        self.acts.note()

    def action_mark(self) -> None:
        """m"""
        self.acts.mark()

    def action_rezero(self) -> None:
        """z"""
        self.acts.rezero()

    def action_relace(self) -> None:
        """l"""
        self.acts.relace()

    def action_parted(self) -> None:
        """p"""
        self.acts.parted()

    def action_dark(self) -> None:
        """d"""
        self.acts.dark()

    def action_arm(self) -> None:
        """r"""
        self.acts.arm()

    def action_stop_all(self) -> None:
        """x"""
        self.acts.stop_all()

    def action_restart(self) -> None:
        """t"""
        self.acts.restart()

    def action_handover(self) -> None:
        """o"""
        self.acts.handover()

    def action_who(self) -> None:
        """w"""
        self.acts.who()

    def action_speed(self) -> None:
        """e"""
        self.acts.speed()

    def action_throw(self) -> None:
        """f, on the list of faults."""
        own = self.own["faults"]
        faults = self.faults_here()
        if self.screen_name != "faults" and self.model.layout is not None and self.model.layout.rehearsal:
            self.say("F7 shows the faults: pick one there, and f throws it")
        elif self.screen_name == "faults" and faults:
            words, keys = faults[min(own.fault, len(faults) - 1)]
            self.send("fault", **keys)
            self.say(f"thrown: {words}")

    def action_leave(self) -> None:
        """q"""
        self.acts.leave()

    def on_canvas_clicked(self, event: Canvas.Clicked) -> None:
        """A click picks a house, an alarm, a cue, a fault."""
        view = self.view()
        if view is None or event.canvas.id != "body":
            return
        width, height = event.canvas.size.width, event.canvas.size.height
        hit = pointed(self.screen_name, view, self.own[self.screen_name], event.x, event.y, width, height)
        if hit.house is not None:
            self.house = hit.house
        if hit.alarm is not None:
            self.alarm = hit.alarm
        if hit.cue is not None:
            self.pick_cue(hit.cue)
        if hit.fault is not None:
            self.own["faults"].fault = hit.fault
        self.tick()
