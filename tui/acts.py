"""What the keys do: operator actions, asked for where they need a number or cannot be taken back."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

from interlock.film import FORMATS
from interlock.text import clean
from interlock.watch.state import AlarmLine, Layout
from tui.draw.alarms import in_order
from tui.draw.view import ASKING, AlarmKey, alarm_title, key_of
from tui.draw.words import alarm_words
from tui.panel import Choice, Field, Question

if TYPE_CHECKING:
    from tui.running import RunningScreen

YES_NO = (Choice("y", "yes"), Choice("n", "no"))
JUST_NOW_S = 0.4
"""An alarm that has been on the screen for less is not acknowledged by a key that was meant for another."""
SPEEDS = {"a": 1.0, "b": 2.0, "c": 4.0, "d": 10.0, "e": 30.0, "f": 60.0, "g": 300.0}


def number(text: str) -> float | None:
    """A number as people write it; None if it is none."""
    try:
        value = float(text.strip().replace("−", "-").replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) < 1e9 else None


def frame_of(text: str, layout: Layout) -> int | str:
    """A frame of the print from what was typed: a frame number, footage ``118+08``, or the beginning of a part's name."""
    typed = text.strip()
    value = number(typed)
    if value is not None:
        return round(value)
    if re.fullmatch(r"-?[0-9]+\+[0-9]+", typed):
        film = next((f for f in FORMATS.values() if f.name == layout.film), None)
        if film is None:
            return "footage of this film is not known here: give a frame number"
        try:
            return film.parse_footage(typed)
        except ValueError as error:
            return str(error)
    found = [p for p in layout.parts if typed and p.name.lower().startswith(typed.lower())]
    if len(found) == 1:
        return found[0].start_fr
    if found:
        return f"{len(found)} parts begin like that: type more of the name"
    return "expected a frame number, footage as in 118+08, or the beginning of a part's name"


class Acts:
    """The actions behind the keys, for the app to take."""

    def __init__(self, app: RunningScreen) -> None:
        self.app = app

    # Alarms

    def picked(self, *, asking: bool) -> AlarmLine | None:
        """The picked alarm; without one the worst (that still asks)."""
        state = self.app.model.newest()
        alarms = [] if state is None else in_order(state.alarms)
        for a in alarms:
            if key_of(a) == self.app.alarm:
                return a
        return next((a for a in alarms if a.state in ASKING or not asking), None)

    def ack(self) -> None:
        """Acknowledge."""
        a = self.picked(asking=True)
        if a is None:
            self.app.say("nothing to acknowledge")
        elif a.state not in ASKING:
            self.app.say(f"{self.name(a)} is acknowledged already")
        elif self.app.since_seen_s(key_of(a)) < JUST_NOW_S:
            self.app.say(f"{self.name(a)} has just come in: read it, then press a again")
        else:
            self.on_alarm("ack", a)
            self.app.say(f"acknowledged: {self.name(a)}")

    def reset(self) -> None:
        """Reset what is gone but held."""
        state = self.app.model.newest()
        held = [
            a for a in ([] if state is None else in_order(state.alarms)) if a.state == "latched-acknowledged"
        ]
        a = next((a for a in held if key_of(a) == self.app.alarm), held[0] if held else None)
        picked = self.picked(asking=False)
        if self.app.alarm is not None and picked is not None and key_of(picked) == self.app.alarm:
            a = picked
        if a is None:
            self.app.say("nothing to reset: an alarm is held only once it is gone and acknowledged")
        else:
            self.on_alarm("reset", a)
            self.app.say(f"reset: {self.name(a)}")

    def reset_group(self) -> None:
        """First-out reset."""
        a = self.picked(asking=False)
        if a is None or a.group is None:
            self.app.say("no first-out to reset")
            return
        self.app.send("reset", group=a.group)
        self.app.say(f"first-out reset: {self.name(a)}")

    def shelve(self) -> None:
        """Shelve with an end, or take back."""
        a = self.picked(asking=False)
        if a is None:
            self.app.say("no alarm to shelve")
            return
        if a.state == "shelved":
            self.on_alarm("unshelve", a)
            self.app.say(f"taken back: {self.name(a)}")
            return

        def done(given: list[str]) -> str | None:
            minutes = number(given[0])
            if minutes is None or not 0 < minutes <= 24 * 60:
                return f"{given[0]!r}: expected minutes, more than 0 and at most 1440"
            self.on_alarm("shelve", a, for_s=minutes * 60.0)
            return None

        self.app.ask(Question(
            f"Shelve {self.name(a)}", "It is put aside, its bell too, and comes back by itself.", done,
            fields=(Field("for how many minutes", "10"),),
        ))  # fmt: skip

    def on_alarm(self, action: str, a: AlarmLine, **keys: object) -> None:
        """Send an action on this alarm."""
        self.app.send(action, subject=a.subject, code=a.code, **keys)

    def name(self, a: AlarmLine) -> str:
        """The alarm in words."""
        layout = self.app.model.layout
        return alarm_words(a.code) if layout is None else " ".join(alarm_title(layout, a)).rstrip()

    # The film

    def house(self) -> str | None:
        """The picked house."""
        layout = self.app.model.layout
        if layout is None or not layout.houses:
            return None
        return layout.houses[min(self.app.house, len(layout.houses) - 1)].house

    def link(self) -> str | None:
        """The link behind the picked house."""
        layout = self.app.model.layout
        if layout is None or self.app.house >= len(layout.links):
            self.app.say("behind the last house there is no loop: pick another with j or k")
            return None
        return layout.links[self.app.house].link

    def mark(self) -> None:
        """Picture seen in the gate now."""
        house, layout = self.house(), self.app.model.layout
        if house is None or layout is None:
            return

        def done(given: list[str]) -> str | None:
            frame = frame_of(given[0] or "0", layout)
            if isinstance(frame, str):
                return f"{given[0]!r}: {frame}"
            self.app.send("mark", house=house, frame=float(frame))
            return None

        self.app.ask(Question(
            f"Mark house {house}",
            "Press Enter at the moment when this frame is in the gate. Frame number (0: first picture), footage as 118+08, "
            "or the beginning of a part's name.",
            done, fields=(Field(f"in the gate of house {house}", "0"),),
        ))  # fmt: skip

    def rezero(self) -> None:
        """A loop was measured."""
        link = self.link()
        if link is not None:
            self._ask_frames("rezero", f"Loop {link} was measured",
                "Its drift now, in frames: + fuller than threaded, - tighter.", "drift_fr", "0", link=link)  # fmt: skip

    def relace(self) -> None:
        """Film passed by hand through a standing machine."""
        house = self.house()
        if house is not None:
            self._ask_frames("relace", f"Film passed by hand through standing house {house}",
                "Frames: + forward (the loop before it shrinks, the one behind it grows), - back.",
                "n_fr", "", house=house)  # fmt: skip

    def _ask_frames(self, action: str, title: str, text: str, key: str, value: str, **keys: object) -> None:
        def done(given: list[str]) -> str | None:
            frames = number(given[0])
            if frames is None:
                return f"{given[0]!r}: expected a number of frames"
            self.app.send(action, **keys, **{key: frames})
            return None

        self.app.ask(Question(title, text, done, fields=(Field("frames", value),)))

    def parted(self) -> None:
        """Film is apart."""
        link = self.link()
        if link is not None:
            self._confirm(f"Film {link} is apart?", "Its drift is then not known and is not judged until it is relaced.",
                "parted", link=link)  # fmt: skip

    def dark(self) -> None:
        """No picture wanted here, or wanted again."""
        house, state = self.house(), self.app.model.newest()
        if house is None or state is None:
            return
        if any(h.house == house and h.dark for h in state.houses):
            self._confirm(
                f"Picture wanted again in house {house}?",
                "Its lamp and dowser are judged again.",
                "light",
                house=house,
            )
        else:
            self._confirm(f"No picture wanted in house {house}?", "Film runs on; lamp and dowser are not asked for there.",
                "dark", house=house)  # fmt: skip

    # The show

    def arm(self) -> None:
        """Arm, or disarm."""
        state = self.app.model.newest()
        if state is not None and state.phase != "waiting":
            self._confirm("Disarm?", "Show zero is forgotten, and motors may be jogged again.", "disarm")
        else:
            self.app.send("arm")
            self.app.say("armed: the first motor that turns is the start")

    def stop_all(self) -> None:
        """Say that all is being stopped."""
        self._confirm("All is being stopped?",
            "This stops no machine: your hand does. It tells the record, and quietens what follows.",
            "stop-all")  # fmt: skip

    def restart(self) -> None:
        """The show goes on."""
        self._confirm("The show goes on?", "The plan goes on from where it stood.", "restart")

    def handover(self) -> None:
        """Somebody else leads."""

        def done(given: list[str]) -> str | None:
            if not given[0].strip():
                return "expected a name"
            self.app.send("handover", by=given[0].strip(), booth=given[1].strip() or None)
            return None

        self.app.ask(Question("Hand over", "Who leads the show from now on?", done,
            fields=(Field("name", self.app.by), Field("booth", self.app.booth))))  # fmt: skip

    def note(self) -> None:
        """A note into the record."""

        def done(given: list[str]) -> str | None:
            if not given[0].strip():
                return "expected some words"
            self.app.send("note", text=given[0].strip())
            return None

        self.app.ask(
            Question(
                "Note", "It goes into the record with the time and your name.", done, fields=(Field("note"),)
            )
        )

    def speed(self) -> None:
        """How fast the rehearsal goes."""

        def done(given: list[str]) -> str | None:
            self.app.send("speed", x=SPEEDS[given[0]])
            return None

        choices = tuple(Choice(k, f"x{x:g}") for k, x in SPEEDS.items())
        self.app.ask(
            Question(
                "Speed of the rehearsal",
                "Seconds of show for one of life. Esc leaves it as it is.",
                done,
                choices=choices,
            )
        )

    def who(self) -> None:
        """Who sits at this screen."""

        def done(given: list[str]) -> str | None:
            self.app.by, self.app.booth = (clean(text, 80) for text in given)
            return None

        self.app.ask(Question("Who I am", "Written beside everything that is done on this screen.", done,
            fields=(Field("name", self.app.by), Field("booth", self.app.booth))))  # fmt: skip

    def leave(self) -> None:
        """Leave this screen: the desk watches on, or the watch ends."""

        def really(given: list[str]) -> str | None:
            if given[0] == "y":
                self.app.source.end()
                self.app.exit("end")
            return None

        def done(given: list[str]) -> str | None:
            if given[0] == "l":
                self.app.exit("leave")
            elif given[0] == "e":
                self.app.ask(Question("End the watch for everybody?", "The desk stops: no alarms, no record from then on.",
                    really, choices=YES_NO))  # fmt: skip
            return None

        self.app.ask(Question(
            "Leave this screen?", "The desk can watch on without it; come back with: longlace attach", done,
            choices=(Choice("l", "leave the desk watching"), Choice("e", "end the watch"), Choice("s", "stay")),
        ))  # fmt: skip

    def _confirm(self, title: str, text: str, action: str, **keys: object) -> None:
        def done(given: list[str]) -> str | None:
            if given[0] == "y":
                self.app.send(action, **keys)
            return None

        self.app.ask(Question(title, text, done, choices=YES_NO))


def next_key(alarms: list[AlarmLine], now: AlarmKey | None, by: int) -> AlarmKey | None:
    """The alarm ``by`` places further in the order in which they are drawn; the ends are ends."""
    keys = [key_of(a) for a in alarms]
    if not keys:
        return None
    if now not in keys:
        return keys[0] if by > 0 else keys[-1]
    return keys[max(0, min(len(keys) - 1, keys.index(now) + by))]
