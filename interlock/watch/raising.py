"""From a condition to an alarm: phases, off-delays, replacement by graver ones, groups and first-out."""

from __future__ import annotations

from interlock.watch.alarms import Alarm
from interlock.watch.say import alarm_line
from interlock.watch.state import Priority
from interlock.watch.world import RANK_ALARM, Values, World

STOP_GROUP_S = 5.0
"""Another stop within this of a run-lost has the same cause."""

STOP_SPREAD_S = 30.0
"""A stop works its way along the film, from loop to loop, within this."""


def judge(
    w: World,
    code: str,
    subject: str,
    condition: bool | None,
    *,
    crossed_s: float | None = None,
    values: Values | None = None,
    priority: Priority | None = None,
    words: dict[str, str] | None = None,
) -> None:
    """The condition of an alarm is so (None: not known, and nothing changes).

    ``crossed_s``: the desk second at which it became true. ``words`` fill the response's places.
    """
    if condition is None:
        return
    key = (code, subject)
    a = w.alarms.get(key)
    if not condition:
        if a is None or not a.active or a.clear_due_s is not None:
            return
        if a.kind.off_delay_s > 0.0:
            a.clear_due_s = w.t_s + a.kind.off_delay_s
            w.due(RANK_ALARM, a.index, _next_s(a))
        else:
            _clear(w, a)
        return
    if a is None:
        a = w.alarm(code, subject)
    a.clear_due_s = None
    urgency = priority or w.priority(a)
    if a.active:
        if urgency == "high" and a.priority != "high":
            a.priority = urgency  # more urgent than when it was seen: it asks anew
            a.acked = False
            settle(w, a)
        return
    if not w.may_trip(a):
        return
    crossed = w.t_s if crossed_s is None else crossed_s
    a.priority = urgency
    a.values = dict(values or {})
    a.values["crossed_s"] = w.show_s(crossed)
    a.values["late"] = True if w.late else None
    a.text = a.kind.response.format_map(
        {"subject": subject, "toward": "", "cause": "", **(words or {})}
    ).strip()
    a.suppressed = w.replaced(a)
    a.since_s = w.t_s
    a.trip()
    _join(w, a)
    w.silenced = False if not a.quiet else w.silenced
    settle(w, a)


def _clear(w: World, a: Alarm) -> None:
    a.clear_due_s = None
    a.clear()
    a.cleared_s = w.t_s
    settle(w, a)


def settle(w: World, a: Alarm) -> None:
    """Say the alarm if it is another than was said, and quieten or bring back what it replaces."""
    visible = a.visible
    w.due(RANK_ALARM, a.index, _next_s(a))
    if visible == "normal":
        if a.said != "normal":
            w.lines.append(alarm_line(w, a))
        a.said = "normal"
        a.group, a.first_out = None, False
        a.since_s = None
    elif visible != a.said or a.active:
        a.said = visible
        w.lines.append(alarm_line(w, a))
    if a.kind.replaces is not None:
        lesser = w.alarms.get((a.kind.replaces, a.subject))
        over = lesser is not None and lesser.clear_due_s is not None and lesser.clear_due_s <= w.t_s
        if lesser is not None and over:
            # It is over at the same moment: said now, it would be an alarm of nothing.
            lesser.clear_due_s = None
            lesser.clear()
            lesser.cleared_s = w.t_s
        if lesser is not None and (lesser.suppress(w.replaced(lesser)) or over):
            if lesser.active and not lesser.quiet:
                _join(w, lesser)
            settle(w, lesser)


def _next_s(a: Alarm) -> float | None:
    waits = [s for s in (a.clear_due_s, a.shelved_until_s) if s is not None]
    return min(waits) if waits else None


def alarm_due(w: World, index: int) -> None:
    """An off-delay or a shelf has come to its end."""
    a = w.alarm_list[index]
    if a.clear_due_s is not None and a.clear_due_s <= w.t_s:
        _clear(w, a)
    if a.shelved_until_s is not None and a.shelved_until_s <= w.t_s:
        a.unshelve()
        settle(w, a)


def _join(w: World, a: Alarm) -> None:
    """The group whose first alarm is this one's cause; none: it is the first of its own."""
    cause = _cause(w, a)
    if cause is not None and cause.group is not None:
        a.group, a.first_out = cause.group, False
    else:
        a.group, a.first_out = w.seq, True


def _standing(w: World, codes: tuple[str, ...], subjects: tuple[str, ...]) -> Alarm | None:
    found = [
        x
        for code in codes
        for s in subjects
        if (x := w.alarms.get((code, s))) is not None
        and x.group is not None
        and (x.active or w.t_s - x.cleared_s <= STOP_GROUP_S)
    ]
    return min(found, key=lambda x: x.since_s or 0.0, default=None)


def _recent_stop(w: World) -> Alarm | None:
    """A stop anywhere on the one film, not long ago: what else would move a loop now?"""
    found = _standing(w, ("run-lost", "film-out"), tuple(h.id for h in w.houses))
    recent = found is not None and found.since_s is not None and w.t_s - found.since_s <= STOP_SPREAD_S
    return found if recent else None


def _cause(w: World, a: Alarm) -> Alarm | None:
    code = a.code
    ids = [h.id for h in w.houses]
    if code in ("slack-low", "slack-critical", "slack-lost", "slack-forecast", "blind"):
        i = w.link_index[a.subject]
        ends = (ids[i], ids[i + 1])
        stops = _standing(
            w, ("run-lost", "start-late", "run-early", "film-out", "count-lost", "speed-off"), ends
        )
        if stops is not None:
            return stops
        own = _standing(w, ("slack-low", "slack-critical", "slack-lost", "slack-forecast"), (a.subject,))
        return own or _recent_stop(w)
    if code == "run-lost":
        k = w.house_index[a.subject]
        others = [
            x
            for h in ids
            if h != a.subject
            and (x := w.alarms.get(("run-lost", h))) is not None
            and x.active
            and x.since_s is not None
            and w.t_s - x.since_s <= STOP_GROUP_S
        ]
        if others:
            return min(others, key=lambda x: x.since_s or 0.0)
        beside = tuple(w.loops[i].id for i in (k - 1, k) if 0 <= i < len(w.loops))
        return _standing(w, ("slack-lost", "slack-critical"), beside) or _standing(
            w, ("film-out",), (a.subject,)
        )
    if code in ("gate-heat", "lamp-dark", "lamp-out", "dowser-shut", "film-out", "count-lost"):
        return _standing(w, ("run-lost", "start-late", "film-out"), (a.subject,))
    if code == "deck-stopped":
        return _standing(w, ("run-lost",), (ids[0] if a.subject == "feed" else ids[-1],))
    return None


def reset_group(w: World, group: int) -> bool:
    """First-out reset: the mark goes, what trips from now on is first anew."""
    hit = [a for a in w.alarm_list if a.group == group]
    for a in hit:
        first = a.first_out
        a.first_out, a.group = False, None
        if first:
            w.lines.append(alarm_line(w, a))
    return bool(hit)
