"""What the keys do: operator actions, asked for where they need a number or cannot be taken back."""

from __future__ import annotations

from interlock.text import clean
from tui.acting import YES_NO
from tui.acts_alarms import AlarmActs
from tui.acts_film import FilmActs
from tui.draw.view import key_of
from tui.panel import Choice, Field, Question

SPEEDS = {"a": 1.0, "b": 2.0, "c": 4.0, "d": 10.0, "e": 30.0, "f": 60.0, "g": 300.0}


class Acts(AlarmActs, FilmActs):
    """All of them; here those on the show and on the screen itself."""

    def arm(self) -> None:
        """Arm, or disarm."""
        state = self.app.model.newest()
        if state is not None and state.phase != "waiting":
            self.confirm("Disarm?", "Show zero is forgotten, and motors may be jogged again.", "disarm")
        else:
            self.app.send("arm")
            self.app.say("armed: the first motor that turns is the start")

    def stop_all(self) -> None:
        """Say that all is being stopped."""
        self.confirm("All is being stopped?",
            "This stops no machine: your hand does. It tells the record, and quietens what follows.",
            "stop-all")  # fmt: skip

    def restart(self) -> None:
        """The show goes on."""
        self.confirm("The show goes on?", "The plan goes on from where it stood.", "restart")

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
            about = self._subject(given[1])
            if about is None:
                return f"{given[1]!r}: expected a house, a loop as 4>3, an adapter, or nothing"
            self.app.send("note", text=given[0].strip(), subject=about or None)
            return None

        self.app.ask(Question("Note", "It goes into the record with the time and your name.", done,
            fields=(Field("note"), Field("about which house, loop or adapter (may be empty)", self._about()))))  # fmt: skip

    def _about(self) -> str:
        """What a note is most likely about: what the picked alarm is on; on the screen of one house that house."""
        state = self.app.model.newest()
        if (
            self.app.alarm is not None
            and state is not None
            and any(key_of(a) == self.app.alarm for a in state.alarms)
        ):
            return self.app.alarm[1]
        return (self.house() or "") if self.app.screen_name == "house" else ""

    def _subject(self, text: str) -> str | None:
        """The subject that was typed, with or without what it is before it; None if this show has none such."""
        layout, typed = self.app.model.layout, text.strip()
        known = {"", "desk", "feed", "take-up"}
        if layout is not None:
            known |= {h.house for h in layout.houses} | {x.link for x in layout.links}
            known |= {s[1] for h in layout.houses for s in h.signals}
        last = typed.removeprefix("house ").removeprefix("loop ").removeprefix("adapter ").strip()
        return next((s for s in (typed, last) if s in known), None)

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

        if self.app.model.lost_s(self.app.clock.now_s()) is not None:
            self.app.ask(Question(
                "Leave this screen?", "The desk is not heard. Leaving changes nothing about it.", done,
                choices=(Choice("l", "leave"), Choice("s", "stay")),
            ))  # fmt: skip
            return
        self.app.ask(Question(
            "Leave this screen?", "The desk can watch on without it; come back with: longlace attach", done,
            choices=(Choice("l", "leave the desk watching"), Choice("e", "end the watch"), Choice("s", "stay")),
        ))  # fmt: skip
