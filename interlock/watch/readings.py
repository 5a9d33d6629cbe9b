"""Readings into the world: which machine, loop or platter a signal belongs to, and what it changes there.

A reading older than the newest of its signal is not applied: the world has gone on since.
"""

from __future__ import annotations

import math

from interlock.signals import Contacts, Counts, Positions
from interlock.watch.judge_house import film_end_seen
from interlock.watch.phases import found_turning, motor_edge
from interlock.watch.signal import Signal
from interlock.watch.world import World

DEBOUNCE_S = 0.05
"""An adapter repeats its levels while a contact is still settling: such a repeat is dated after the change that it does
not show yet, and says nothing against it. A change up to this much older than the newest word is taken as it is dated."""
STEADY_LINE_S = 0.4
"""Contacts are repeated at least so often: a change after a longer gap is dated only within that gap."""
LOST_BACK, LOST_SIGMA = 0.25, 0.323
"""Shares of the time since the word before, for a change that is first told after words that are missing. Either it is of this
word's own date, or a missing one told of it and it is of any moment in that time. At even odds it is a quarter of it older
than its word (the mean of 0 and 1/2), with a variance of 1/6 − 1/16."""


def fold_contacts(w: World, r: Contacts) -> tuple[list[int], list[int]]:
    """Contacts of one adapter. Returns (houses, links) of which something changed."""
    houses: list[int] = []
    links: list[int] = []
    contacts, fact_s = w.contacts, r.fact_s
    for name, value in r.values:
        found = contacts.get(name)
        if found is None:
            continue
        what, index, signal = found
        if signal.value is value and signal.known:
            signal.fact_s = fact_s if fact_s > signal.fact_s else signal.fact_s
            continue
        if fact_s < signal.fact_s - DEBOUNCE_S:
            continue
        if fact_s <= max(signal.since_s, signal.overruled_s):
            continue  # a change has come in since; or this is the repeat that one has already overruled, said twice
        first = signal.value is None
        changed = signal.value is not value
        silent = not signal.known
        signal.value, signal.known = value, True
        last_fact_s, signal.fact_s = signal.fact_s, fact_s
        if changed and not first:
            signal.since_s = fact_s
            if fact_s < last_fact_s:
                signal.overruled_s = last_fact_s
        if what == "run":
            houses.append(index)
            if changed:
                _motor(w, index, signal, value, first, *_dated(r, last_fact_s, silent))
        elif what in ("lamp", "dowser", "film"):
            houses.append(index)
            if what == "film" and changed and not first and not value:
                film_end_seen(w, w.houses[index])
        elif what == "platter":
            houses.append(0 if name.startswith("feed") else len(w.houses) - 1)
        else:
            links.append(index)
            if value:
                w.loops[index].at_limit(w.t_s, what == "spill")
    return houses, links


def _dated(r: Contacts, last_fact_s: float, silent: bool) -> tuple[float, float]:
    """When a contact changed that is told by ``r`` and was as before at ``last_fact_s``: desk second, 1-sigma."""
    gap_s = r.fact_s - last_fact_s
    if gap_s > STEADY_LINE_S and (silent or r.missing):
        # It happened while nothing was heard of it: in the middle, give or take.
        return last_fact_s + gap_s / 2.0, gap_s / math.sqrt(12.0)
    if gap_s > 0.0 and r.missing:
        return r.fact_s - LOST_BACK * gap_s, LOST_SIGMA * gap_s
    return r.fact_s, 0.0


def _motor(w: World, k: int, signal: Signal, value: bool, first: bool, at_s: float, sigma_s: float) -> None:
    h = w.houses[k]
    if first:
        if value and w.phase != "waiting":
            found_turning(w, h, signal.fact_s)
            motor_edge(w, value, signal.fact_s)
        return
    at_s = h.machine.edge(at_s, value, sigma_s)
    if h.machine.tracking:
        motor_edge(w, value, at_s)


def fold_counts(w: World, r: Counts) -> list[int]:
    """Counters of one adapter. Returns the houses whose machine began or ceased to be in doubt, started or stopped."""
    changed: list[int] = []
    counters, houses, fact_s = w.counters, w.houses, r.fact_s
    for name, frames, pulse_s in r.values:
        k = counters.get(name)
        if k is None or not math.isfinite(frames):
            continue
        m = houses[k].machine
        if m.ticks_on(fact_s, frames, pulse_s):
            continue
        before = (m.doubt_since_s is None, m.counter.known, m.motion.profile.v1)
        m.count(fact_s, frames, pulse_s)
        after = (m.doubt_since_s is None, m.counter.known, m.motion.profile.v1)
        if before != after:
            changed.append(k)
            if before[2] != after[2] and not m.run.wired:
                motor_edge(w, after[2] > 0.0, m.motion.profile.t0_s)
    return changed


def fold_positions(w: World, r: Positions) -> list[int]:
    """Accumulator arms of one adapter. Returns their links."""
    links: list[int] = []
    fact_s = r.fact_s
    for name, position in r.values:
        i = w.arms.get(name)
        if i is None or not math.isfinite(position):
            continue
        loop = w.loops[i]
        loop.arm_known = True
        loop.arm_says(fact_s, position)
        links.append(i)
    return links
