"""What people must do next: each cue of each house, by the frame that the estimate has in its gate.

coming (within a minute), due, then done where a contact says so, or missed. A cue that no contact can
confirm is taken as done a while after it was due: the desk does not know better, and asks nobody.
A lamp may have to be struck before the motors start: such cues go by the wall clock until they do.
"""

from __future__ import annotations

import math

from interlock.watch.house import HouseWatch
from interlock.watch.say import cue_due_s, cue_line
from interlock.watch.state import CueLine
from interlock.watch.world import World

COMING_S = 60.0
MISSED_S = 10.0
UNCONFIRMED_S = 15.0
LIGHT_CUES = frozenset({"strike-lamp", "open-dowser", "close-dowser", "lamp-off"})


_CONTACTS = (frozenset({"strike-lamp", "lamp-off"}), frozenset({"open-dowser", "close-dowser"}))


def follow_cues(w: World, h: HouseWatch, frame: tuple[float, float, float] | None) -> float:
    """Move this house's cues on, ``frame`` being in its gate; returns the desk second of the next step, ∞ if none is near."""
    next_s = math.inf
    zero_s = w.zero_s if w.zero_s is not None else _planned_zero_s(w)
    if zero_s is None or (w.zero_s is None and zero_s <= w.t_s):
        return next_s  # nobody waits for a start, or it is past: what comes next, the motors tell
    for n, cue in enumerate(h.cues):
        state = h.cue_states[n]
        if state in ("done", "missed"):
            continue
        if h.dark and cue.cue in LIGHT_CUES:
            continue
        due = cue_due_s(w, h, n, frame)
        if due is None:
            break
        if w.zero_s is None and due >= 0.0:
            break  # film must run first
        due_s = zero_s + due
        if state is None:
            if w.t_s < due_s - COMING_S:
                next_s = min(next_s, due_s - COMING_S)
                break  # cues are in order: those behind come later still
            _to(w, h, n, "coming")
        confirmed = _confirmed(h, cue.cue)
        if confirmed and _before_open(h, n):
            confirmed = False  # that is from before: the cue before it on the same contact is still to come
        if confirmed is True and w.t_s >= due_s - COMING_S:
            _to(w, h, n, "done")
            continue
        if w.t_s < due_s:
            next_s = min(next_s, due_s)
            continue
        if h.cue_states[n] == "coming":
            _to(w, h, n, "due")
        over_s = due_s + (MISSED_S if confirmed is False else UNCONFIRMED_S)
        if w.t_s < over_s:
            next_s = min(next_s, over_s)
        else:
            _to(w, h, n, "missed" if confirmed is False else "done")
    return next_s


def _planned_zero_s(w: World) -> float | None:
    """Desk second at which the first motor is, or was, to start; None if nobody waits for that."""
    if w.phase not in ("waiting", "armed") or (w.phase == "waiting" and not w.auto_arm):
        return None
    return w.t_s + w.show.motor_start_wall_s + w.show.least_start_delay_s - w.wall_s(w.t_s)


def _to(w: World, h: HouseWatch, n: int, state: str) -> None:
    h.cue_states[n] = state  # type: ignore[call-overload]
    w.lines.append(cue_line(w, h, n))


def _before_open(h: HouseWatch, n: int) -> bool:
    """Whether an earlier cue of the same contact is neither done nor missed yet."""
    pair = next((p for p in _CONTACTS if h.cues[n].cue in p), None)
    return pair is not None and any(
        h.cues[m].cue in pair and h.cue_states[m] not in ("done", "missed") for m in range(n)
    )


def _confirmed(h: HouseWatch, cue: str) -> bool | None:
    """Whether a contact says that it was done; None where no contact can say."""
    if cue == "strike-lamp":
        return h.lamp.now
    if cue == "open-dowser":
        return h.dowser.now
    if cue == "close-dowser":
        return None if h.dowser.now is None else not h.dowser.now
    if cue == "lamp-off":
        return None if h.lamp.now is None else not h.lamp.now
    if cue == "motor-off":
        return None if h.machine.turning is None else not h.machine.turning
    return None


def open_cues(w: World, most: int = 64) -> tuple[CueLine, ...]:
    """What is still to do, and what was missed within the last minute and is not done yet, by due time."""
    found: list[tuple[float, int, CueLine]] = []
    zero_s = w.zero_s if w.zero_s is not None else _planned_zero_s(w)
    for h in w.houses:
        frame = h.frame(w.t_s)
        for n, cue in enumerate(h.cues):
            if h.cue_states[n] == "done" or (h.dark and cue.cue in LIGHT_CUES):
                continue
            due = cue_due_s(w, h, n, frame)
            if h.cue_states[n] == "missed" and (
                due is None or zero_s is None or w.t_s - zero_s - due > COMING_S or _confirmed(h, cue.cue)
            ):
                continue
            line = cue_line(w, h, n, snapshot=True)
            found.append((math.inf if due is None else due, h.index, line))
    found.sort(key=lambda f: (f[0], f[1]))
    return tuple(f[2] for f in found[:most])
