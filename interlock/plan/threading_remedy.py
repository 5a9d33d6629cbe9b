"""What would make a stretch possible that cannot be done: where a table, which roller, which house."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from interlock.plan.check_notes import listed
from interlock.plan.threading_pull import Step, end_pull, turning_gain
from interlock.showfile.settings import ThreadingSettings
from interlock.showfile.show import Show


def remedy(show: Show, steps: Sequence[Step], limit_n: float, limit_of: str) -> str:
    """What cannot be done, and what would help, in sentences. ``steps``: of a stretch over the limit."""
    settings = show.threading
    whose = "a hand" if limit_of == "hand" else "a splice"
    pull_n = end_pull(steps, settings.hold_back_n)
    links = list(dict.fromkeys(step.link for step in steps if step.kind != "machine"))
    subject = f"Link {links[0]}" if len(links) == 1 else f"Links {listed(links)}" if links else "This stretch"
    said = [
        f"{subject} cannot be threaded in one piece: the pull reaches {_newtons(pull_n)}, {whose} bears {limit_n:.0f} N."
    ]
    if settings.hold_back_n > limit_n:
        return (
            f"{said[0]} The hold_back of {settings.hold_back_n:g} N alone is more than that: pay out by hand."
        )
    said += [f"{what[0].upper()}{what[1:]}." for what in _ways_out(show, steps, limit_n)]
    if pull_n > settings.splice_n and limit_of == "hand":
        said.append("More hands do not help: a splice would not bear it either.")
    return " ".join(said)


def _ways_out(show: Show, steps: Sequence[Step], limit_n: float) -> list[str]:
    settings = show.threading
    tables, hopeless = _tables(steps, settings.hold_back_n, limit_n)
    ways = [
        f"no table helps at {_where(step)}, which is too much by itself: make it turn, or go round it"
        for step in hopeless
    ]
    if tables:
        feet = show.film.tape_ft_from_frames
        places = [
            f"{feet(s.at_fr):.0f} ft along {s.link}, before {_where(s)}" if s.kind != "machine" else _where(s)
            for s in tables
        ]
        ways.append(f"add a make-up table not later than {listed(places)}")
    shut = [s.link for s in steps if s.kind == "machine" and not _house_threads(show, s.link)]
    if shut:
        ways.append(f"or make a place to stand at house{'s' if len(shut) > 1 else ''} {listed(shut)}")
    stuck = [step for step in steps if step.stuck]
    if stuck:
        freed_n = end_pull(_freed(steps, settings), settings.hold_back_n)
        names = listed(f"{s.number} of {s.link}" for s in stuck)
        s, helps = "s" if len(stuck) > 1 else "", "enough" if freed_n <= limit_n else "not enough alone"
        ways.append(f"with roller{s} {names} turning the pull would be {_newtons(freed_n)}, {helps}")
    return ways


def _tables(steps: Sequence[Step], start_n: float, limit_n: float) -> tuple[list[Step], list[Step]]:
    """(steps before each of which a table is needed, steps that pass the limit from a fresh start)."""
    tables: list[Step] = []
    hopeless: list[Step] = []
    pull_n = start_n
    for i, step in enumerate(steps):
        if step.pull_n(pull_n) <= limit_n:
            pull_n = step.pull_n(pull_n)
            continue
        if step.pull_n(start_n) > limit_n:
            hopeless.append(step)
            pull_n = start_n
            continue
        if i:
            tables.append(step)
        pull_n = step.pull_n(start_n)
    return tables, hopeless


def _freed(steps: Sequence[Step], s: ThreadingSettings) -> list[Step]:
    return [
        msgspec.structs.replace(
            step, gain=turning_gain(s.friction, s.pin_m, s.roller_m, step.wrap_rad), adds_n=s.roller_drag_n
        )
        if step.stuck
        else step
        for step in steps
    ]


def _house_threads(show: Show, house: str) -> bool:
    return next(h.threads_from for h in show.houses if h.id == house)


def _where(step: Step) -> str:
    if step.kind == "machine":
        return f"the machine of house {step.link}"
    if step.kind == "lift":
        return f"the lift on {step.link}"
    return f"roller {step.number} of {step.link}"


def _newtons(pull_n: float) -> str:
    return f"{pull_n:.1f} N" if pull_n < 1000.0 else "more than 1,000 N"
