"""The banner: on every screen, never covered. Three rows: the show, what is wrong, what comes next and how fresh it all is."""

from __future__ import annotations

from interlock.watch.state import AlarmLine
from tui.draw.detail import complaint
from tui.draw.runs import Block, Row, Run, block_fit, fit, row_fit, row_width, safe, sides, width_of
from tui.draw.view import ASIDE, GONE, View, alarm_title, glyph_of, need, style_of
from tui.draw.words import PHASES, clock_of, countdown, cue_words, day_of, due_words, duration, show_time
from tui.look.palette import StyleName

HEIGHT = 3
FRESH_S = 0.75
LOST_S = 2.0
ARMS_S = 30.0
"""So long before motor_start a desk arms itself, unless it was disarmed."""
LEAST_WORDS = 8
"""Cells of a cue's words that say anything."""


def draw_banner(view: View, width: int) -> Block:
    """Title, time and phase; alarms and the worst of them; next cue, age of the data, heartbeat of the desk."""
    return block_fit([_show(view, width), _wrong(view, width), _next(view, width)], width, HEIGHT, view.g)


def _show(view: View, width: int) -> Row:
    g = view.g
    state = view.state
    right: Row = []
    if view.review:
        right += [(" REVIEW ", "plain-fill"), (" ", "text")]
    if view.layout.rehearsal:
        speed = "" if view.review or state.speed is None or state.speed == 1 else f" x{state.speed:g}"
        right += [(f" REHEARSAL{speed} ", "plain-fill"), (" ", "text")]
    leads = safe(state.leads or "", g)
    booth = safe(state.booth or "", g)
    if leads:
        who = fit(leads, min(width_of(leads), 16), g)
        where = fit(booth, min(width_of(booth), 10), g)
        right.append((f"{who} leads{', ' + where if booth else ''}", "text"))
    elif width >= 60:
        right.append(("nobody leads", "dim"))
    phase = "not known" if view.lost_s is not None else PHASES[state.phase]
    when = show_time(state.show_s, state.plan_s, g.minus)
    if view.lost_s is not None:
        when = f"last {when}"
    elif state.show_s is None:
        when = f"start {when}"
    middle: Row = [(f"  {when} ", "strong"), (phase, "plain-fill" if state.phase == "stopped" else "strong")]
    room = width - row_width(middle) - row_width(right) - 1
    if room < 8 and right:
        room = width - row_width(middle)
        right = [r for r in right if r[1] == "plain-fill" and room - width_of(r[0]) >= 4]
        room -= row_width(right)
    title = safe(view.layout.title, g)
    left: Row = [(fit(title, max(0, min(width_of(title), room)), g), "strong"), *middle]
    return sides(left, right, width, g)


def _wrong(view: View, width: int) -> Row:
    g = view.g
    if view.lost_s is not None:
        text = f"{g.high} DESK NOT HEARD for {duration(view.lost_s)}: watch by eye, nothing here is known"
        if view.ended:
            text = (
                f"{g.high} THE WATCH HAS ENDED, {duration(view.lost_s)} ago: nothing is watched or recorded"
            )
        return [(fit(text, width, g), "high")]
    if view.review and view.why:
        return [
            (fit(f"{g.unknown} NOTHING IS KNOWN of this moment: {safe(view.why, g)}", width, g), "medium")
        ]
    alarms = [a for a in view.state.alarms if a.state not in ASIDE]
    aside = len(view.state.alarms) - len(alarms)
    counts: Row = []
    for priority, glyph in (("high", g.high), ("medium", g.medium), ("low", g.low)):
        n = sum(a.priority == priority for a in alarms)
        word = f" {priority}" if width >= 110 else ""
        text = f"{glyph}{n}{word}"
        mark: Row = [(text, f"{priority}-mark")] if n else [(text, "dim")]  # type: ignore[list-item]
        counts += [*mark, (" ", "text")]
    if aside:
        counts.append((f"{aside} put aside ", "dim"))
    flood = view.state.flood
    if flood is not None:
        word = (
            f" FLOOD: {flood.recent} new alarms in 10 min " if width >= 110 else f" FLOOD {flood.recent} new "
        )
        counts += [(word, "plain-fill"), (" ", "text")]
    if view.state.silenced:
        counts.append(("bell off ", "text"))
    if not alarms:
        return row_fit([*counts, *_all_well(view)], width, g)
    worst = min(alarms, key=need)
    return row_fit(
        [*counts, (fit(_worst(view, worst), max(0, width - row_width(counts)), g), style_of(worst))], width, g
    )


def _worst(view: View, a: AlarmLine) -> str:
    g = view.g
    what, where = alarm_title(view.layout, a)
    name = f"{glyph_of(a, view)} {what.upper()} {safe(where, g)}".rstrip()
    if a.state == GONE:  # told to act now, somebody would start a machine that runs
        return f"{name} is gone by itself, not acknowledged"
    said = complaint(view, a)
    said = f" It says: {said}" if said else ""
    held = "" if a.active else "gone, held. "
    return f"{name}: {held}{safe(a.text, g)}{said}"


def _all_well(view: View) -> Row:
    g = view.g
    if view.age_s is None and not view.review:
        return [(f"{g.unknown} no adapter has spoken yet", "strong")]
    if view.age_s is not None and view.age_s >= LOST_S:
        return [(f"{g.unknown} no word from any adapter for {duration(view.age_s)}", "strong")]
    if view.state.phase == "waiting" and not view.review:
        return [_not_armed(view)]
    blind = sum(h.run is None for h in view.state.houses)
    if blind:
        return [(f"{g.unknown} no alarm; {blind} of {len(view.state.houses)} motors are not known", "text")]
    return [(f"{g.on} all well, no alarm", "text")]


def _not_armed(view: View) -> Run:
    """Before the desk is armed nothing of the loops is judged: that is not "all well", least of all with motors that turn."""
    state = view.state
    turning = sum(h.run is True for h in state.houses)
    motors = f"{turning} {'motor turns' if turning == 1 else 'motors turn'}, " if turning else ""
    if state.plan_s is not None and state.plan_s < -ARMS_S and not view.disarmed:  # jogged, while they thread
        left = countdown(-ARMS_S - state.plan_s)
        return (f"{view.g.off} not armed: {motors}it arms itself in {left}", "strong" if turning else "text")
    return (
        f" {view.g.unknown} NOT ARMED: {motors}no loop is judged{'; r arms' if view.keys else ''} ",
        "plain-fill",
    )


def _next(view: View, width: int) -> Row:
    g = view.g
    state = view.state
    right: Row = []
    if not state.record_ok:
        right += [(f"{g.high} NOT RECORDED ", "high"), (" ", "text")]
    if view.review:
        zone = view.layout.timezone
        day, clock = safe(day_of(state.at, zone), g), safe(clock_of(state.at, zone), g)
        right.append(
            (f"recorded {day} {clock} {safe(zone, g)}" if width >= 100 else f"recorded {clock}", "dim")
        )
    elif view.lost_s is None:
        age = view.age_s
        if age is None:
            right.append(("no data ", "text"))
        elif age < FRESH_S:
            right.append(("data fresh ", "dim"))
        else:
            right.append((f"{g.medium} data {min(age, 9999):.1f} s old ", "medium-mark"))
        right.append((f"desk alive {g.beats[state.beat % len(g.beats)]}", "dim"))
    else:
        right.append(("q leaves" if view.ended else f"{g.unknown} not heard", "dim"))
    if view.lost_s is not None:
        return sides([(safe(view.why, g) or "it is silent; trying again", "strong")], right, width, g)
    left: Row = [("next ", "dim")]
    left += _to_do(view, max(0, width - row_width(right) - row_width(left) - 1))
    return sides(left, right, width, g)


def _to_do(view: View, room: int) -> Row:
    """The next cue in ``room`` cells: if there are not enough, its words are cut, and never where and when."""
    g = view.g
    state = view.state
    cue = next((c for c in state.cues if c.state in ("due", "coming")), None)
    if cue is None:
        over = state.phase == "ended" and not view.review
        return [("the show has ended" if over else "nothing to do in the next minutes", "dim")]
    left_s = None if cue.due_s is None or state.show_s is None else cue.due_s - state.show_s
    style: StyleName = "text"
    if cue.due_s is None:
        when = " when not known"
    elif left_s is None:
        side = "before" if cue.due_s < 0 else "after"
        when = " NOW" if cue.state == "due" else f" at {duration(cue.due_s)} {side} the start"
        style = "strong" if cue.state == "due" else "text"
    else:
        stands = any(h.house == cue.house and h.run is False for h in state.houses)
        when = f" {due_words(left_s, stands=stands)}"
        style = "strong" if cue.state == "due" or left_s < 10 else "text"
    where = f", house {safe(cue.house, g)}"
    words = safe(cue_words(cue.cue), g)
    left = room - width_of(where) - len(when)
    if left >= LEAST_WORDS:
        words = fit(words, min(width_of(words), left), g)
    return [(words + where, style), (when, style if left_s is not None or cue.state == "due" else "dim")]
