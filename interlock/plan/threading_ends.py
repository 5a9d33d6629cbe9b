"""The two ends of the print: the tail that every house needs, and the order in which machines may stop."""

from __future__ import annotations

import msgspec

from interlock.plan.timeline import time_of_frame
from interlock.showfile.show import Show


class Tail(msgspec.Struct, frozen=True):
    """The tail that the print needs, in frames: the longest ``link`` with its loop at its fullest, and a margin.

    With less than ``least_fr`` the end of the film leaves a house before the next has shown its last picture.
    """

    link: str
    least_fr: float
    margin_fr: float
    have_fr: int

    @property
    def need_fr(self) -> float:
        """With the margin."""
        return self.least_fr + self.margin_fr

    @property
    def short_fr(self) -> float:
        """What is to be added; 0 where there is enough."""
        return max(0.0, self.need_fr - self.have_fr)


def tail(show: Show) -> Tail:
    """The tail that is needed, against what the print has behind its last picture."""
    longest = max(show.links, key=lambda link: link.path_fr + link.spill_fr)
    return Tail(
        longest.id,
        longest.path_fr + longest.spill_fr,
        show.threading.tail_margin_fr,
        show.length_fr - show.last_picture_fr,
    )


class RunOut(msgspec.Struct, frozen=True):
    """One step of the run-out: at plan time ``plan_s`` the film's end has cleared ``house``.

    Only then may its machine stop; before it does, the wired stop of ``bypass`` (a link, or nothing) must be
    bypassed, or it takes the next machine down with it.
    """

    plan_s: float
    house: str
    bypass: str


def run_out(show: Show) -> tuple[RunOut, ...]:
    """The order in which machines may stop: that of the film, from the first house on."""
    wired = {link.upstream: link.id for link in show.links if link.wired}
    return tuple(
        RunOut(time_of_frame(show, k, show.length_fr), house.id, wired.get(house.id, ""))
        for k, house in enumerate(show.houses)
    )
