"""Alarms: the first of a group on top with its mark, its consequences folded beneath it, and what to do."""

from __future__ import annotations

from dataclasses import dataclass

from interlock.watch.state import AlarmLine
from tui.draw.runs import Block, Row, block_fit, row_fit, row_width, safe, sides, wrap
from tui.draw.view import ASIDE, View, alarm_title, glyph_of, key_of, mark_of, style_of
from tui.draw.words import ALARM_STATES, alarm_words, duration, seconds_between


@dataclass(frozen=True, slots=True)
class Fold:
    """An alarm and what follows from it."""

    head: AlarmLine
    follow: tuple[AlarmLine, ...]


def folded(alarms: tuple[AlarmLine, ...]) -> list[Fold]:
    """Groups in the order of their worst alarm; the first-out leads its group. What is put aside comes last, unfolded."""
    folds: list[Fold] = []
    done: set[int] = set()
    for a in sorted(alarms, key=lambda a: a.state in ASIDE):  # stable: worst first stays
        if a.state in ASIDE or a.group is None:
            folds.append(Fold(a, ()))
        elif a.group not in done:
            done.add(a.group)
            members = [b for b in alarms if b.group == a.group and b.state not in ASIDE]
            head = next((b for b in members if b.first_out), members[0])
            folds.append(Fold(head, tuple(b for b in members if b is not head)))
    return folds


def in_order(alarms: tuple[AlarmLine, ...]) -> list[AlarmLine]:
    """Every alarm in the order in which it is drawn."""
    return [a for fold in folded(alarms) for a in (fold.head, *fold.follow)]


def draw_alarms(view: View, width: int, height: int, *, unfolded: bool = False) -> Block:
    """As many groups as fit: two rows for the head, one for what follows. What does not fit is counted in the last row."""
    g = view.g
    rows: Block = []
    if not view.state.alarms:
        said = "no alarms" if view.lost_s is None else "not known"
        return block_fit([[(f"{g.dot} {said}", "dim")]], width, height, g)
    if view.lost_s is not None:
        rows.append([("last known, before the desk was lost:", "strong")])
    chunks: list[Block] = []
    for fold in folded(view.state.alarms):
        deep = 3 if unfolded or (not chunks and height >= 8) else 1
        chunk = [_head(view, fold.head, width), *_what_to_do(view, fold.head, width, deep)]
        if unfolded:
            for a in fold.follow:
                chunk.append(_head(view, a, width, under=True))
                if view.alarm == key_of(a):
                    chunk += _what_to_do(view, a, width, deep)
        elif fold.follow:
            chunk.append(_follow(view, fold, width))
        chunks.append(chunk)
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
        rows.append([(f"{g.fold} {hidden} more: F4 shows them all", "strong")])
    return block_fit(rows, width, height, g)


def _first_chunk(view: View, chunks: list[Block], height: int) -> int:
    """The first group drawn, so that the picked alarm is seen."""
    at = next(
        (
            n
            for n, f in enumerate(folded(view.state.alarms))
            if any(view.alarm == key_of(a) for a in (f.head, *f.follow))
        ),
        0,
    )
    first = at
    room = height - len(chunks[at])
    while first > 0 and room >= len(chunks[first - 1]):
        first -= 1
        room -= len(chunks[first])
    return first


def _head(view: View, a: AlarmLine, width: int, *, under: bool = False) -> Row:
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
        right.append((f"for {duration(stood)} ", "text"))
    if a.first_out and a.group is not None:
        chip = next(
            (c for c in (" first out ", " 1st ") if row_width(row) + len(c) + row_width(right) <= width), ""
        )
        row.append((chip, "plain-fill"))
    state = ALARM_STATES.get(a.state, a.state)
    if a.state == "shelved" and a.until_at is not None:
        until = seconds_between(view.state.at, a.until_at)
        state = state if until is None else f"shelved, back in {duration(max(0.0, until))}"
    if row_width(row) + row_width(right) + len(state) <= width:
        right.append((state, "dim"))
    return sides(row, right, width, g)


def _what_to_do(view: View, a: AlarmLine, width: int, most: int) -> Block:
    """In one line where there is little room; the worst one's whole text where there is more."""
    lines = wrap(safe(a.text, view.g), max(1, width - 4), most, view.g)
    return [row_fit([("   ", "text"), (line, "text")], width, view.g) for line in lines]


def _follow(view: View, fold: Fold, width: int) -> Row:
    g = view.g
    row: Row = [(f"   {g.fold} follow from it: ", "dim")]
    for n, a in enumerate(fold.follow):
        name = f"{alarm_words(a.code)} {safe(a.subject, g)}"
        rest = len(fold.follow) - n
        if row_width(row) + len(name) + 12 > width and n:
            row.append((f"and {rest} more", "dim"))
            break
        pick = g.pick if view.alarm == key_of(a) else ""
        row += [(f"{pick}{glyph_of(a, view)}", mark_of(a)), (f" {name}  ", "text" if a.active else "dim")]
    return row_fit(row, width, g)


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
