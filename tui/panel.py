"""The panel at the foot in which the screen asks: yes or no, a choice by letter, or a line or two of text.

It covers the lower part of a screen, never the banner. While it is open no other key acts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.events import Key
from textual.widgets import Input, Static

from tui.draw.runs import safe, wrap
from tui.look.glyphs import Glyphs

FIELDS = 2


@dataclass(frozen=True, slots=True)
class Field:
    """A line of text to be filled in."""

    label: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """A letter, and what it means."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Question:
    """``fields`` or ``choices``. ``done`` gets the texts, or the chosen letter; it returns why it cannot be, or None."""

    title: str
    text: str
    done: Callable[[list[str]], str | None]
    fields: tuple[Field, ...] = ()
    choices: tuple[Choice, ...] = ()


class Panel(Vertical, can_focus=True):
    """Asks one question at a time."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__(id="panel")
        self.glyphs = glyphs
        """Of the look that is on."""
        self.question: Question | None = None

    def compose(self) -> ComposeResult:
        yield Static("", id="ask-title", markup=False)
        yield Static("", id="ask-text", markup=False)
        for n in range(FIELDS):
            yield Static("", id=f"ask-label-{n}", markup=False, classes="label")
            yield Input(id=f"ask-{n}", compact=True, max_length=1000, select_on_focus=True)
        yield Static("", id="ask-keys", markup=False)

    def ask(self, question: Question) -> None:
        """Open with this question."""
        self.question = question
        g = self.glyphs
        self.set_class(g.ascii, "plain")
        self._say("ask-title", safe(question.title, g))
        self._say("ask-text", "\n".join(wrap(safe(question.text, g), max(20, self.app.size.width - 4), 3, g)))
        for n in range(FIELDS):
            field = self.query_one(f"#ask-{n}", Input)
            label = self.query_one(f"#ask-label-{n}", Static)
            field.display = label.display = n < len(question.fields)
            if n < len(question.fields):
                label.update(Content(safe(question.fields[n].label, g)))
                field.value = safe(question.fields[n].value, g)
        if question.fields:
            more = "    Tab: next line" if len(question.fields) > 1 else ""
            self._say("ask-keys", f"Enter or F2: do it    Esc or F3: leave it{more}")
        else:
            self._say("ask-keys", "    ".join(f"{c.key}  {safe(c.words, g)}" for c in question.choices))
        self.display = True
        (self.query_one("#ask-0", Input) if question.fields else self).focus()

    def close(self) -> None:
        """Close without an answer."""
        self.question = None
        self.display = False
        self.screen.set_focus(None)

    def _say(self, widget: str, text: str) -> None:
        self.query_one(f"#{widget}", Static).update(Content(text))

    def on_key(self, event: Key) -> None:
        """Letters choose; F2 and Enter do, F3 and Esc leave."""
        question = self.question
        if question is None:
            return
        if event.key in ("escape", "f3"):
            self._stop(event)
            self.close()
        elif question.choices:
            self._stop(event)
            if any(c.key == event.key for c in question.choices):
                self._answer([event.key])
        elif event.key == "tab" and len(question.fields) == 1:
            self._stop(
                event
            )  # it comes from a burst of letters that a terminal has pasted: there is no other line to go to
            self.query_one("#ask-0", Input).insert_text_at_cursor(" ")
        elif event.key in ("f2", "enter"):
            self._stop(event)
            self._answer([self.query_one(f"#ask-{n}", Input).value for n in range(len(question.fields))])

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter in a line of text."""
        event.stop()
        if self.question is not None and self.question.fields:
            self._answer([self.query_one(f"#ask-{n}", Input).value for n in range(len(self.question.fields))])

    def _stop(self, event: Key) -> None:
        event.stop()
        event.prevent_default()

    def _answer(self, given: list[str]) -> None:
        question = self.question
        if question is None:
            return
        refused = question.done(given)
        if refused is not None:
            self._say("ask-text", safe(refused, self.glyphs))
        elif self.question is question:
            self.close()
