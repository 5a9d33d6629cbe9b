"""In which order the alarms are told, and what is folded beneath what. Nothing is drawn here."""

from __future__ import annotations

from collections.abc import Collection

from interlock.watch.flood import Fold, fold_alarms
from interlock.watch.state import AlarmLine, State
from tui.draw.view import ASIDE, need


def folded(alarms: tuple[AlarmLine, ...]) -> list[Fold]:
    """Groups in the order of their most needed alarm; the first-out leads its group. What is put aside comes last, unfolded."""
    folds: list[Fold] = []
    done: set[int] = set()
    for a in sorted(alarms, key=need):  # stable: a first-out stays before the others
        if a.state in ASIDE or a.group is None:
            folds.append(Fold(a))
        elif a.group not in done:
            done.add(a.group)
            members = [b for b in alarms if b.group == a.group and b.state not in ASIDE]
            head = next((b for b in members if b.first_out), members[0])
            rest = sorted((b for b in members if b is not head), key=need)  # what stands before what is gone
            folds.append(Fold(head, tuple(rest), "group"))
    return folds


def folds_of(state: State) -> list[Fold]:
    """As :func:`folded`; while a flood stands, by code as well."""
    return folded(state.alarms) if state.flood is None else list(fold_alarms(sorted(state.alarms, key=need)))


def fold_name(fold: Fold) -> str:
    """What names a fold while its members come and go."""
    return f"group {fold.head.group}" if fold.by == "group" else f"code {fold.head.code}"


def in_order(alarms: tuple[AlarmLine, ...]) -> list[AlarmLine]:
    """Every alarm in the order of the list."""
    return [a for fold in folded(alarms) for a in fold.members]


def pickable(state: State, opened: Collection[str]) -> list[AlarmLine]:
    """The alarms that can be picked one after another: in a flood not those in a fold that nobody has opened."""
    return [
        a
        for fold in folds_of(state)
        for a in (fold.members if state.flood is None or fold_name(fold) in opened else (fold.head,))
    ]
