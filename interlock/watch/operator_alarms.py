"""What people do with an alarm: each gives why it was refused, None if it was done."""

from __future__ import annotations

from interlock.watch.alarms import Alarm
from interlock.watch.inputs import Action
from interlock.watch.raising import reset_group, settle
from interlock.watch.world import World

SHELVE_S = 600.0


def _alarm(w: World, a: Action) -> Alarm | str:
    if a.subject is None or a.code is None:
        return f"{a.action} needs subject and code"
    found = w.alarms.get((a.code, a.subject))
    return found if found is not None else f"there is no alarm {a.code} on {a.subject}"


def ack(w: World, a: Action) -> str | None:
    """Somebody has seen it."""
    found = _alarm(w, a)
    if isinstance(found, str):
        return found
    if not found.ack():
        return f"{a.code} on {a.subject} is {found.visible}: nothing to acknowledge"
    settle(w, found)
    return None


def reset(w: World, a: Action) -> str | None:
    """A latched alarm whose condition is over, or a whole group of first-outs, is let go."""
    if a.group is not None:
        return None if reset_group(w, a.group) else f"there is no group {a.group}"
    found = _alarm(w, a)
    if isinstance(found, str):
        return found
    if not found.reset():
        return f"{a.code} on {a.subject} is {found.visible}: nothing to reset"
    settle(w, found)
    return None


def shelve(w: World, a: Action) -> str | None:
    """It is put aside for ``for_s``, ten minutes if nothing is said."""
    found = _alarm(w, a)
    if isinstance(found, str):
        return found
    for_s = a.for_s if a.for_s is not None else SHELVE_S
    if not found.shelve(w.t_s + for_s, until_clear=a.until_clear):
        return f"{a.code} on {a.subject} is {found.visible}: it cannot be shelved"
    settle(w, found)
    return None


def unshelve(w: World, a: Action) -> str | None:
    """It is taken back from the shelf."""
    found = _alarm(w, a)
    if isinstance(found, str):
        return found
    if not found.unshelve():
        return f"{a.code} on {a.subject} is not shelved"
    settle(w, found)
    return None
