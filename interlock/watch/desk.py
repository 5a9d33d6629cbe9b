"""The desk's fold: ``step(input) → lines``. (Being written; the signatures stand.)"""

from __future__ import annotations

from interlock.showfile.show import Show
from interlock.watch.inputs import Anchor, Input
from interlock.watch.state import Layout, Line, State


class Desk:
    """Folds inputs into lines. Pure: no clock, no port, no chance; time comes in with the inputs.

    ``anchor`` ties desk seconds to the wall clock at the start. ``step`` returns the lines that the
    input (and every deadline up to its time) brought, in order. ``next_due_s`` is the desk second of the next
    deadline, so that a ``Tick`` can be sent for it and no sooner. ``state`` is a snapshot, free of effect.
    """

    def __init__(self, show: Show, anchor: Anchor, *, rehearsal: bool = False) -> None:
        raise NotImplementedError

    def step(self, x: Input) -> list[Line]:
        """Fold one input."""
        raise NotImplementedError

    def next_due_s(self) -> float | None:
        """When something falls due by time alone; None if nothing does."""
        raise NotImplementedError

    def state(self) -> State:
        """The newest of everything, as of the last input."""
        raise NotImplementedError


def layout(show: Show, *, rehearsal: bool = False, record: str | None = None) -> Layout:
    """What does not change during the show."""
    raise NotImplementedError
