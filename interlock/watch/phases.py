"""The show's phases, show zero, and the plan that stands while every machine does.

waiting, armed, starting, running, stopped, running-out, ended: what each lets trip is the catalogue's matter.
"""

from __future__ import annotations

from interlock.watch.catalogue import LIVE
from interlock.watch.house import HouseWatch
from interlock.watch.raising import judge
from interlock.watch.say import show_line
from interlock.watch.state import ShowPhase
from interlock.watch.world import RANK_SHOW, World

ARM_BEFORE_S = 30.0
AT_SPEED_S = 3.0
LONG_PAST_S = 3600.0
"""A motor_start that is longer past than this arms nothing by itself."""


def go(w: World, phase: ShowPhase) -> None:
    """To another phase; what may trip there is judged by the caller's round over houses and links."""
    if phase != w.phase:
        w.phase = phase
        if phase == "stopped":
            w.stopped_s = w.t_s
        w.lines.append(show_line(w))


def plan_arming(w: World) -> None:
    """Arm 30 s before motor_start by the wall clock, once; at once if that has just passed."""
    if w.phase != "waiting" or not w.auto_arm:
        w.due(RANK_SHOW, 0, None)
        return
    left_s = w.show.motor_start_wall_s - ARM_BEFORE_S - w.wall_s(w.t_s)
    if left_s < -LONG_PAST_S:
        w.due(RANK_SHOW, 0, None)
        return  # another evening's file, or a date not yet set: the crew says when
    w.due(RANK_SHOW, 0, w.t_s + max(0.0, left_s))


def arm(w: World) -> None:
    """Threaded: from here on what turns counts."""
    w.auto_arm = False
    for h in w.houses:
        h.machine.arm(w.t_s)
        if h.machine.untracked:
            _found_turning(w, h)
    for loop in w.loops:
        loop.arm()
    go(w, "armed")
    turning = [h for h in w.houses if h.machine.turning is True]
    if turning:
        show_zero(w, w.t_s)


def disarm(w: World) -> None:
    """As if nothing had been armed; the desk does not arm itself again."""
    w.auto_arm = False
    w.zero_s = None
    w.stand_since_s = None
    w.plan_shift_s = 0.0
    for h in w.houses:
        h.machine.disarm(w.t_s)
        h.phase = "threaded"
        h.cue_states = [None] * len(h.cues)
        h.lit_on_picture = False
    for loop in w.loops:
        loop.phase = "threaded"
    go(w, "waiting")
    for a in w.alarm_list:
        if a.active and a.code not in LIVE[w.phase]:
            judge(w, a.code, a.subject, condition=False)  # it was of a start that is none any more


def show_zero(w: World, at_s: float) -> None:
    """The first motor turns."""
    w.zero_s = at_s
    w.stand_since_s = None
    go(w, "starting")


def _found_turning(w: World, h: HouseWatch) -> None:
    for i in (h.index - 1, h.index):
        if 0 <= i < len(w.loops):
            w.loops[i].unknown = True


def found_turning(w: World, h: HouseWatch, at_s: float) -> None:
    """The first word about a machine is that it turns: how far it had come nobody knows."""
    h.machine.found_turning(at_s)
    _found_turning(w, h)


def motor_edge(w: World, turning: bool, at_s: float) -> None:
    """A motor started or stopped (already folded into its machine): what that means for the show."""
    if turning and w.phase == "armed":
        show_zero(w, at_s)
        return
    if w.zero_s is None:
        return
    if turning and w.stand_since_s is not None:
        w.plan_shift_s += max(0.0, at_s - w.stand_since_s)
        w.stand_since_s = None
    if not turning and all(h.machine.turning is False for h in w.seen):
        w.stand_since_s = at_s  # follow() makes of it what it is, after the stop itself has been judged


def follow(w: World) -> bool:
    """What time and the film alone bring about. True if the phase changed. Sets the next deadline."""
    before = w.phase
    if w.phase in ("starting", "running", "stopped", "running-out"):
        if all(h.phase == "clear" for h in w.seen):
            if all(h.machine.turning is not True for h in w.seen):
                go(w, "ended")
        elif w.phase != "stopped" and w.stand_since_s is not None and w.stand_since_s > w.started_anew_s:
            go(w, "stopped")
        elif w.phase in ("starting", "stopped") and (due_s := _all_at_speed_s(w)) is not None:
            if due_s <= w.t_s:
                go(w, "running")
            else:
                w.due(RANK_SHOW, 1, due_s)
        if w.phase == "running" and w.seen[0].phase == "clear":
            go(w, "running-out")
    return w.phase != before


def _all_at_speed_s(w: World) -> float | None:
    """When every machine that still has film will have been at speed for 3 s; None while one is not on its way.

    For one whose adapter is lost the others are not made to wait: it may stay so to the end of the show.
    """
    latest_s: float | None = None
    for h in w.seen:
        if h.phase == "clear":
            continue
        m = h.machine
        if m.turning is None and _lost(w, h):
            continue
        if m.turning is not True or m.start_s is None:
            return None
        if w.phase == "stopped" and m.start_s <= w.stopped_s:
            return None  # told to stop, and not stopped yet
        latest_s = max(latest_s or 0.0, m.start_s + m.motion.ramp_s + AT_SPEED_S)
    return latest_s


def _lost(w: World, h: HouseWatch) -> bool:
    """Whether no adapter is heard that could tell of its motor."""
    told = {f"{h.id}.run", f"{h.id}.frames"}
    return all(w.active("adapter-lost", a.name) for a in w.adapters if not told.isdisjoint(a.signals))


def stop_all(w: World) -> None:
    """Somebody said stop-all: what follows is meant."""
    if w.phase in ("starting", "running", "running-out"):
        go(w, "stopped")


def restart(w: World) -> None:
    """The crew starts again from where it stood: every standing machine has yet to turn."""
    for h in w.houses:
        if h.machine.turning is not True:
            h.machine.ran = False
    w.started_anew_s = w.t_s
    go(w, "starting")
