"""A recorded show as the screens see it: any moment of it, and where the alarms came.

The service implements it over a record, a test with a handful of lines; the screens know nothing else of a record.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from interlock.watch.state import Layout, Line, State


@dataclass(frozen=True, slots=True)
class Moment:
    """``state`` as it was then; ``log`` everything that had happened, oldest first; ``drifts`` of each link the last minutes:
    (show second, drift, sigma), a point a second, None where not known. ``gap``: nobody recorded anything then.
    """

    state: State
    log: Sequence[Line]
    drifts: Mapping[str, Sequence[tuple[float, float | None, float | None]]]
    gap: bool = False


@dataclass(frozen=True, slots=True)
class AlarmMark:
    """An alarm that came: ``t_s`` seconds after the beginning of the record, what is to be said of it."""

    t_s: float
    priority: str
    code: str
    subject: str


class Recording(Protocol):
    """A recorded show."""

    @property
    def layout(self) -> Layout:
        """What does not change during the show."""
        ...

    @property
    def length_s(self) -> float:
        """Seconds from the first to the last thing in the record."""
        ...

    @property
    def zero_s(self) -> float | None:
        """Seconds from the beginning of the record to show zero; None if the show never started."""
        ...

    @property
    def alarms(self) -> Sequence[AlarmMark]:
        """Every alarm that came up, in the order of time."""
        ...

    @property
    def remark(self) -> str:
        """What is to be known of the record itself (cut off, damaged), in words; empty where there is nothing."""
        ...

    def at(self, t_s: float) -> Moment:
        """The moment ``t_s`` seconds after the beginning; before it the first, after the end the last."""
        ...
