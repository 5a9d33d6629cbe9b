"""The record on the screen: everything that happened, a sentence a line, newest last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from interlock.done import ALARM_STATES, alarm_words, did
from interlock.watch.state import (
    AdapterLine,
    AlarmLine,
    CueLine,
    ErrorLine,
    HouseLine,
    Layout,
    Line,
    LinkLine,
    OperatorLine,
    ShowLine,
)
from tui.draw.runs import Block, block_fit, fit, safe, wrap
from tui.draw.view import View, alarm_title
from tui.draw.words import PHASES, clock_of, cue_words, show_time
from tui.look.palette import StyleName

MOST_ROWS = 14
"""Of one line of the record: a note of a thousand letters at 80 columns."""


def sentence(line: Line, layout: Layout | None) -> str:
    """What happened, for people. Not yet safe for a terminal."""
    if isinstance(line, ShowLine):
        return f"the show is {PHASES.get(line.phase, line.phase)}"
    if isinstance(line, AlarmLine):
        name = alarm_words(line.code) if layout is None else " ".join(alarm_title(layout, line)).rstrip()
        first = ", first out" if line.first_out else ""
        state = ALARM_STATES.get(line.state, line.state)
        return f"{line.priority} alarm: {name}: {state}{first}"
    if isinstance(line, CueLine):
        return f"cue {line.state}: {cue_words(line.cue)}, house {line.house}"
    if isinstance(line, AdapterLine):
        return f"adapter {line.adapter} is {line.state}{': ' + line.text if line.text else ''}"
    if isinstance(line, OperatorLine):
        return did(line)
    if isinstance(line, HouseLine):
        words = [_said(n, getattr(line, n)) for n in ("run", "lamp", "dowser", "film")]
        part = f"; {line.part}" if line.part else ""  # often all that has changed
        return f"house {line.house}: {line.phase}, {', '.join(words)}{', dark' if line.dark else ''}{part}"
    if isinstance(line, LinkLine):
        return f"loop {line.link} is {line.state}"
    return f"not understood: {line.text}"


def _said(name: str, value: bool | None) -> str:
    words = {
        "run": ("runs", "stands"),
        "lamp": ("lit", "out"),
        "dowser": ("open", "shut"),
        "film": ("film", "no film"),
    }
    return f"{name} not known" if value is None else words[name][0 if value else 1]


def filtered(lines: Iterable[Line], layout: Layout | None, wanted: str) -> list[Line]:
    """The lines in whose sentence every word of ``wanted`` occurs, whatever its case."""
    words = wanted.lower().split()
    if not words:
        return list(lines)
    return [line for line in lines if all(w in sentence(line, layout).lower() for w in words)]


def concerns(line: Line, house: str, links: frozenset[str], adapters: frozenset[str]) -> bool:
    """Whether a line is about this house, a loop beside it, or an adapter that it is wired to."""
    if isinstance(line, HouseLine | CueLine):
        return line.house == house
    if isinstance(line, LinkLine):
        return line.link in links
    if isinstance(line, AdapterLine):
        return line.adapter in adapters
    if isinstance(line, AlarmLine):
        return line.subject == house or line.subject in links or line.subject in adapters
    if isinstance(line, OperatorLine):
        on = (line.keys.get("house"), line.keys.get("subject"), line.keys.get("link"))
        return house in on or any(x in links or x in adapters for x in on)
    return False


def draw_log(
    view: View, lines: list[Line], width: int, height: int, scroll: int = 0, *, clock: bool = True
) -> Block:
    """The newest ``height`` lines at the foot; ``scroll``: how many lines back; without ``clock`` the show time alone."""
    g = view.g
    if not lines:
        return block_fit([[(f"{g.dot} nothing like that has happened", "dim")]], width, height, g)
    end = max(1, len(lines) - max(0, scroll))
    rows: Block = []
    while end and len(rows) < height:  # from the newest up, each with all its words
        end -= 1
        told = _told(view, lines[end], width, clock=clock)
        rows = [*told[-(height - len(rows)) :], *rows]
    # Scrolled up to the first line, the screen stays as full as there are lines.
    for line in lines[max(1, len(lines) - max(0, scroll)) :]:
        if len(rows) >= height:
            break
        rows += _told(view, line, width, clock=clock)
    return block_fit(rows, width, height, g)


def furthest(view: View, lines: Sequence[Line], width: int, height: int) -> int:
    """How many lines back the first one stands at the top; further there is nothing."""
    rows = 0
    for n, line in enumerate(lines):
        rows += len(_told(view, line, width, clock=True))
        if rows >= height:
            return len(lines) - n - (rows == height)
    return 0


def _told(view: View, line: Line, width: int, *, clock: bool) -> Block:
    """One line of the record in as many rows as its words need, up to :data:`MOST_ROWS`."""
    g = view.g
    when = show_time(line.show_s, None, g.minus) if line.show_s is not None else "before"
    lead = f"{fit(safe(clock_of(line.at, view.layout.timezone), g), 9, g) if clock else ''}{fit(when, 9, g)}"
    first, *rest = wrap(safe(sentence(line, view.layout), g), max(8, width - len(lead)), MOST_ROWS, g)
    style = _style(line)
    rows: Block = [[(lead, "dim"), (first, style)]]
    return rows + [[(" " * len(lead), "dim"), (more, style)] for more in rest]


def _style(line: Line) -> StyleName:
    if isinstance(line, AlarmLine) and line.state == "unacknowledged":
        marks: dict[str, StyleName] = {"high": "high-mark", "medium": "medium-mark", "low": "low-mark"}
        return marks[line.priority]
    if isinstance(line, OperatorLine | ErrorLine | ShowLine):
        return "strong"
    return "text"
