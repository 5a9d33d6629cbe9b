"""What one house is doing, in words and glyphs: shared by the rows of the list and by the tiles."""

from __future__ import annotations

from interlock.watch.state import HouseLine
from tui.draw.runs import Row, cut, fit, safe, width_of
from tui.draw.view import ASIDE, GONE, View, style_of
from tui.draw.words import (
    countdown,
    cue_words,
    deviation_s,
    due_words,
    duration,
    footage,
    from_start,
    part_at,
    short_cue,
    shortest_cue,
    to_first_picture_s,
)
from tui.look.palette import StyleName

SIGNALS = (
    ("run", "runs", "stop", "run"),
    ("lamp", "lit", "out", "lamp"),
    ("dowser", "open", "shut", "dows"),
    ("film", "film", "none", "film"),
)
"""(signal, word when true, when false, when not known)"""
_TROUBLE = {
    "run": ("run-lost", "start-late", "run-early", "count-lost", "speed-off"),
    "lamp": ("lamp-dark", "lamp-out", "lamp-left-on", "lamp-against-dowser", "gate-heat"),
    "dowser": ("dowser-shut", "dowser-open-early", "gate-heat", "lamp-against-dowser"),
    "film": ("film-out",),
}


def signal_run(view: View, line: HouseLine, signal: str, width: int) -> Row:
    """``●runs``, ``○shut``, ``?lamp``: glyph and word; coloured only if an alarm of this house is about it."""
    g = view.g
    _, yes, no, name = next(s for s in SIGNALS if s[0] == signal)
    value: bool | None = getattr(line, signal)
    text = f"{g.unknown}{name}" if value is None else (f"{g.on}{yes}" if value else f"{g.off}{no}")
    style: StyleName = "dim" if value is None else "text"
    for a in view.state.alarms:
        if a.subject == line.house and a.code in _TROUBLE[signal] and a.state not in ASIDE | {GONE}:
            style = style_of(a)
            break
    return [(fit(text, width, g), style)]


def gate_text(view: View, line: HouseLine, width: int) -> str:
    """What is in the gate: part and footage into it, or the countdown to the first picture."""
    g = view.g
    if line.frame is None:
        return fit("gate not known", width, g)
    if line.phase == "clear":
        return fit("film through", width, g)
    to_first_s = to_first_picture_s(view.layout, line)
    if to_first_s is not None:
        # Only running film brings the picture nearer: a standing machine has so much leader to run.
        return fit(f"{'pic in' if line.run else 'leader'} {duration(to_first_s)}", width, g)
    n = part_at(view.layout, line.frame)
    if n is None:
        return fit("film through", width, g)
    part = view.layout.parts[n]
    feet = footage(view.layout, line.frame - part.start_fr)
    name = safe(part.name, g)
    if width >= len(feet) + 12:
        return fit(f"{cut(name, width - len(feet) - 1, g)} {feet}", width, g)
    whole = f"part {n + 1} {feet}"
    return fit(whole if width >= len(whole) else f"p{n + 1} {feet}", width, g)


def plan_run(view: View, line: HouseLine, width: int) -> Row:
    """How far from the plan: ``0.3 late``."""
    g = view.g
    deviation = deviation_s(view.layout, line)
    if deviation is None or line.phase in ("threaded", "clear"):
        return [(" " * width, "dim")]
    if abs(deviation) < 0.05:
        return [(fit("on plan", width, g), "dim")]
    size = abs(deviation)
    number = f"{size:.1f}" if size < 100 else f"{min(size, 99999):.0f}"
    unit = " s" if width >= len(number) + 8 else ""
    return [(fit(f"{number}{unit} {'early' if deviation > 0 else 'late'}", width, g), "text")]


def next_words(view: View, house: str, width: int, *, short: bool) -> Row:
    """What comes next here and in how long."""
    g = view.g
    cue = view.next_cue.get(house)
    if cue is None:
        return [(" " * width, "text")]
    show_s = view.state.show_s
    lefts = [""]
    if cue.due_s is not None and show_s is None:
        # Before show zero nothing counts down yet: so long after the start, or before it.
        lefts = ["now" if cue.state == "due" else from_start(cue.due_s, g.minus)]
    elif cue.due_s is not None and show_s is not None:
        left_s = cue.due_s - show_s
        lefts = [countdown(left_s)]
        if left_s >= 3600:
            lefts.append(f"{int(left_s) // 3600}h{int(left_s) // 60 % 60:02d}m")
    named = ([] if short else [cue_words(cue.cue)]) + [short_cue(cue.cue), shortest_cue(cue.cue)]
    style: StyleName = "strong" if cue.state == "due" else "text"
    for words in (safe(name, g) for name in named):
        for left in lefts:
            if width_of(words) + len(left) + 1 <= width:
                return [(fit(f"{words} {left}", width, g), style)]
    words, left = safe(named[-1], g), lefts[-1]
    gap = "" if left.startswith("+") else " "
    return [(fit(f"{cut(words, max(1, width - len(left) - len(gap)), g)}{gap}{left}", width, g), style)]


def next_whole(view: View, house: str, width: int) -> str:
    """What comes next here with all its words, if :func:`next_words` has cut them in ``width`` cells; else nothing."""
    g = view.g
    cue = view.next_cue.get(house)
    if cue is None or g.more not in next_words(view, house, width, short=width < 20)[0][0]:
        return ""
    show_s = view.state.show_s
    when = "when not known"
    if cue.state == "due":
        when = "NOW"
    elif cue.due_s is not None:
        stands = any(h.house == house and h.run is False for h in view.state.houses)
        when = (
            from_start(cue.due_s, g.minus) if show_s is None else due_words(cue.due_s - show_s, stands=stands)
        )
    return f"house {safe(house, g)} {when}: {safe(cue_words(cue.cue), g)}"


def speed_text(line: HouseLine) -> str:
    """Speed where it is counted."""
    return "" if line.speed_fps is None else f"{line.speed_fps:.2f} fps"
