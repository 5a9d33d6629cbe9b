"""Alarms: the first of a group on top with its mark, its consequences folded beneath it, and what to do.

While a flood stands the list is folded further: every code is one line, whatever it is on, until somebody opens it.
"""

from __future__ import annotations

from typing import TypeAlias

from interlock.done import ALARM_STATES, alarm_words
from interlock.watch.flood import Fold
from interlock.watch.state import AlarmLine
from tui.draw.detail import details
from tui.draw.folds import fold_name, folds_of
from tui.draw.runs import Block, Row, block_fit, row_fit, row_width, safe, sides, wrap
from tui.draw.view import ASIDE, GONE, AlarmKey, View, alarm_title, glyph_of, key_of, mark_of, need, style_of
from tui.draw.words import clock_of, duration, seconds_between
from tui.look.palette import StyleName

Keyed: TypeAlias = list[tuple[Row, AlarmKey | None]]
"""Rows, each with the alarm that it belongs to."""
_SHORT = {
    "shelved": "shelved",
    "suppressed": "suppressed",
    "out-of-service": "out of service",
    GONE: "gone",
    "latched-unacknowledged": "held",
    "latched-acknowledged": "held",
}
"""What must be said even where there is little room."""
WIDEST = 120
"""Beyond this the eye loses the row between an alarm and how long it has stood."""


def draw_alarms(view: View, width: int, height: int, *, unfolded: bool = False) -> Block:
    """As many groups as fit: two rows for the head, one for what follows. What does not fit is counted in the last row."""
    return block_fit(
        [row for row, _ in alarm_rows(view, width, height, unfolded=unfolded)], width, height, view.g
    )


def alarm_at(view: View, y: int, width: int, height: int, *, unfolded: bool) -> AlarmKey | None:
    """The alarm in row ``y`` of the same drawing, for the mouse."""
    rows = alarm_rows(view, width, height, unfolded=unfolded)
    return rows[y][1] if 0 <= y < len(rows) else None


def alarm_rows(view: View, width: int, height: int, *, unfolded: bool) -> Keyed:
    """The rows, each with the alarm that it belongs to."""
    g = view.g
    width = min(width, WIDEST)
    rows: Keyed = []
    if not view.state.alarms:
        said = "no alarms" if view.lost_s is None else "not known"
        return [([(f"{g.dot} {said}", "dim")], None)]
    if view.lost_s is not None:
        rows.append(([("last known, before the desk was lost:", "strong")], None))
    flood = view.state.flood
    if unfolded and flood is not None:
        said = f"FLOOD: {flood.recent} new in 10 min, {flood.alarms} since {clock_of(flood.since_at, view.layout.timezone)}"
        rows.append(
            ([(f" {safe(said, g)} ", "plain-fill"), (" u i pick a fold, Enter opens it", "text")], None)
        )
    chunks = [_chunk(view, fold, n, width, height, unfolded) for n, fold in enumerate(folds_of(view.state))]
    first = _first_chunk(view, chunks, height) if unfolded else 0
    shown = 0
    for chunk in chunks[first:]:
        if len(rows) + min(len(chunk), 2) > height and rows:
            break
        rows += chunk
        shown += 1
    hidden = len(chunks) - first - shown
    if hidden > 0 and height > 2:
        rows = rows[: height - 1]
        way = f": {'u goes on' if unfolded else 'F4 shows them all'}" if view.keys else ""
        rest = f"{g.fold} {hidden} more{way}"
        rows.append(([(rest, "strong")], None))
    elif rows and len(view.state.alarms) > 1 and height <= 2:
        head, key = rows[0]
        more: Row = [(f" +{len(view.state.alarms) - 1}: F4", "strong")]
        rows[0] = (sides(head, more, width, g), key)
    return rows


def _chunk(view: View, fold: Fold, n: int, width: int, height: int, unfolded: bool) -> Keyed:
    g = view.g
    closed = view.state.flood is not None and fold_name(fold) not in view.opened
    deep = 3 if (unfolded and view.state.flood is None) or (not n and height >= 8) else 1
    led = fold.by == "group" and bool(fold.rest)
    short = height <= 2 and len(view.state.alarms) > 1
    rows: Keyed = [(_head(view, fold.head, width - (8 if short else 0), led=led), key_of(fold.head))]
    if n == 0 or view.state.flood is None or view.alarm == key_of(fold.head):
        # Where the head is gone and what followed from it is not, that is what must be seen to.
        told = fold.head if unfolded else min(fold.members, key=need)
        rows += _more(view, told, width, deep, unfolded or height >= 6, unfolded, named=told is not fold.head)
    if not fold.rest:
        return rows
    if closed and unfolded:
        rows.append((_closed(view, fold, width), key_of(fold.head)))
    elif unfolded:
        stands = next((a for a in fold.rest if a.active), None)
        for a in fold.rest:
            rows.append((_head(view, a, width, under=True), key_of(a)))
            if view.alarm == key_of(a) or (fold.head.state == GONE and a is stands):
                rows += _more(view, a, width, deep, True, True)
    else:
        rows.append((_follow(view, fold, width), key_of(fold.head)))
    return [(row_fit(r, width, g), k) for r, k in rows]


def _more(
    view: View, a: AlarmLine, width: int, most: int, told: bool, told_all: bool, *, named: bool = False
) -> Keyed:
    """What to do, in one line where there is little room; what is known of its subject where there is more.

    Of what is gone, or was put aside, only where everything is told: beside what stands, nobody is to read what need not
    be done. ``named``: it stands under another alarm's name.
    """
    g = view.g
    if (a.state == GONE or a.state in ASIDE) and not told_all:
        return []
    text = safe(f"{' '.join(alarm_title(view.layout, a))}: {a.text}" if named else a.text, g)
    style: StyleName = "text" if a.active else "dim"  # what is gone need not be done any more
    rows: Block = [[("   ", "text"), (line, style)] for line in wrap(text, max(1, width - 4), most, g)]
    if told and a.state not in ASIDE:
        known = [row for line in details(view, a) for row in wrap(line, max(1, width - 4), 2, g)]
        rows += [[("   ", "text"), (line, "dim")] for line in known]
    return [(row_fit(r, width, g), key_of(a)) for r in rows]


def _first_chunk(view: View, chunks: list[Keyed], height: int) -> int:
    """The first group drawn, so that the picked alarm is seen."""
    at = next((n for n, chunk in enumerate(chunks) if any(key == view.alarm for _, key in chunk)), 0)
    first = at
    room = height - len(chunks[at]) - (view.lost_s is not None) - (view.state.flood is not None)
    while first > 0 and room >= len(chunks[first - 1]):
        first -= 1
        room -= len(chunks[first])
    return first


def _head(view: View, a: AlarmLine, width: int, *, under: bool = False, led: bool = False) -> Row:
    """``led``: others follow from it; an alarm that stands alone needs no mark to say that it was the first."""
    g = view.g
    picked = view.alarm == key_of(a)
    what, where = alarm_title(view.layout, a)
    name = f"{what.upper() if a.priority == 'high' else what} {safe(where, g)}".rstrip()
    row: Row = [(g.pick if picked else " ", "strong")]
    if under:
        row.append((f" {g.fold} ", "dim"))
    row.append((f"{glyph_of(a, view)} {name} ", style_of(a)))
    right: Row = []
    left = time_left(view, a)
    if left:
        right.append((f"{left} ", "strong"))
    stood = seconds_between(a.since_at, view.state.at)
    if stood is not None and stood >= 0:
        right.append((f"{duration(stood)} ago " if a.state == GONE else f"for {duration(stood)} ", "text"))
    if led and a.first_out and a.group is not None:
        chip = next(
            (c for c in (" first out ", " 1st ") if row_width(row) + len(c) + row_width(right) <= width), ""
        )
        row.append((chip, "plain-fill"))
    state = ALARM_STATES.get(a.state, a.state)
    if a.state == "shelved" and a.until_at is not None:
        until = seconds_between(view.state.at, a.until_at)
        state = state if until is None else f"shelved, back in {duration(max(0.0, until))}"
    for words in (state, _SHORT.get(a.state, "")):
        if row_width(row) + row_width(right) + len(words) <= width:
            right.append((words, "dim"))
            break
    else:  # that it is not as it reads is said before how long
        right = [(_SHORT[a.state], "dim")] if a.state in _SHORT else right
    return sides(row, right, width, g)


def _follow(view: View, fold: Fold, width: int) -> Row:
    g = view.g
    grouped = fold.by == "group"
    names = [
        f"{alarm_words(a.code)} {safe(a.subject, g)}" if grouped else safe(a.subject, g) for a in fold.rest
    ]
    words = "follow from it: " if grouped else f"and {len(fold.rest)} more of {alarm_words(fold.head.code)}: "
    if grouped and len(names) > 1 and len(words) + len(names[0]) + 5 + 4 + 11 > width:
        words = "then "  # so that how many more there are is not cut off
    row: Row = [(f"   {g.fold} {words}", "dim")]
    for n, a in enumerate(fold.rest):
        name = names[n]
        rest = len(fold.rest) - n
        if row_width(row) + len(name) + 4 + (13 if rest > 1 else 0) > width and n:
            row.append((f"and {rest} more", "dim"))
            break
        pick = g.pick if view.alarm == key_of(a) else ""
        row += [(f"{pick}{glyph_of(a, view)}", mark_of(a)), (f" {name}  ", "text" if a.active else "dim")]
    return row_fit(row, width, g)


def _closed(view: View, fold: Fold, width: int) -> Row:
    """A fold of a flood, in words that say how to open it."""
    g = view.g
    if view.alarm != key_of(fold.head):
        return _follow(view, fold, width)
    return sides(_follow(view, fold, max(0, width - 12)), [(" Enter opens", "strong")], width, g)


def time_left(view: View, a: AlarmLine) -> str:
    """How long there is, where it can be told: the time to the limit of a loop as an interval."""
    for link in view.state.links:
        if link.link == a.subject and link.to_limit_s is not None and a.active:
            soon, middle, late = link.to_limit_s
            if middle > 24 * 3600:
                return ""
            if late - soon < 1.5:
                return f"{duration(max(0.0, middle))} left"
            return f"{duration(max(0.0, soon))}-{duration(max(0.0, late))} left"
    return ""
