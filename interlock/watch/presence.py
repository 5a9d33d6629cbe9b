"""Adapters: heard, stale after 750 ms without a word, lost after 2 s; and what hangs on them becomes unknown."""

from __future__ import annotations

import math

from interlock.signals import Presence
from interlock.watch.house import AdapterWatch
from interlock.watch.raising import judge
from interlock.watch.say import adapter_line
from interlock.watch.state import AdapterPhase
from interlock.watch.world import RANK_ADAPTER, World

STALE_S = 0.75
LOST_S = 2.0


def word(w: World, a: AdapterWatch) -> None:
    """It has said something."""
    a.word_s = w.t_s
    a.heard = True
    if a.phase != "up":
        _to(w, a, "up")
        judge(w, "adapter-stale", a.name, condition=False)
        judge(w, "adapter-lost", a.name, condition=False)
        # The deadline that is set may be that of its last silence, later than this word's own.
        a.due_s = -math.inf
        next_look(w)
    # Else it is put off only when it fires: a thousand lines a second are not a thousand deadlines.


def presence(w: World, a: AdapterWatch, p: Presence) -> set[int]:
    """Comings, goings and restarts. Returns the houses whose signals became unknown."""
    a.lines, a.bad_lines, a.lost_lines = p.lines, p.bad_lines, p.lost_lines
    complains = a.text != p.text
    a.text = p.text
    if p.state == "gone":
        if a.phase in (None, "up", "restarted"):
            return stale(w, a)
        if complains:  # why it is away is often known later than that it is
            w.lines.append(adapter_line(w, a))
        return set()
    if p.state == "restarted":
        if a.heard:
            word(w, a)
            for signal in sorted(a.signals):
                k = w.counters.get(signal)
                if k is not None:
                    w.houses[k].machine.restarted()
            a.phase = "restarted"
            w.lines.append(adapter_line(w, a))
            a.phase = "up"
            judge(w, "adapter-restarted", a.name, condition=w.zero_s is not None)
            judge(w, "adapter-restarted", a.name, condition=False)
        else:
            word(w, a)
        return set()
    if a.phase == "up" and complains:
        w.lines.append(adapter_line(w, a))
    word(w, a)
    return set()


def stale(w: World, a: AdapterWatch) -> set[int]:
    """What it said may no longer hold. Returns the houses whose signals became unknown."""
    _to(w, a, "stale")
    touched: set[int] = set()
    for name in sorted(a.signals):
        if name in w.contacts:
            what, index, signal = w.contacts[name]
            signal.known = False
            if what in ("run", "lamp", "dowser", "film"):
                touched.add(index)
        elif name in w.counters:
            w.houses[w.counters[name]].machine.silent()
            touched.add(w.counters[name])
        elif name in w.arms:
            w.loops[w.arms[name]].arm_known = False
    judge(w, "adapter-stale", a.name, condition=True, crossed_s=min(a.word_s + STALE_S, w.t_s))
    return touched


def next_look(w: World) -> None:
    """One deadline for all adapters, for nearly always all of them have been heard since: the earliest of theirs."""
    for a in w.adapters:
        a.due_s = max(a.due_s, a.word_s + STALE_S)
    w.due(RANK_ADAPTER, 0, min((a.due_s for a in w.adapters), default=None))


def adapter_due(w: World, a: AdapterWatch) -> set[int]:
    """Its silence has lasted; or it has not. Sets when it is to be looked at again."""
    silent_s = w.t_s - a.word_s
    touched: set[int] = set()
    if a.word_s + STALE_S > w.t_s:
        a.due_s = a.word_s + STALE_S
        return touched
    if a.phase in (None, "up", "restarted"):
        touched = stale(w, a)
    if a.word_s + LOST_S > w.t_s:
        a.due_s = a.word_s + LOST_S
        return touched
    if a.phase != "lost":
        _to(w, a, "lost")
        judge(
            w,
            "adapter-lost",
            a.name,
            condition=True,
            crossed_s=a.word_s + LOST_S,
            values={"silent_s": silent_s},
        )
    a.due_s = w.t_s + STALE_S
    return touched


def _to(w: World, a: AdapterWatch, phase: AdapterPhase) -> None:
    a.phase = phase
    w.lines.append(adapter_line(w, a))
