"""The alarms' life cycle, of ISA-18.2 / IEC 62682 states, kept as independent bits.

active (the condition holds, after deadband and delays), acknowledged, latched, and three ways of
being quiet: shelved by a person (always with an end), suppressed by design (a graver alarm says it
already), out of service. The state is a projection of the bits; the table that it must come to is in
the tests with its source.
"""

from __future__ import annotations

import math

from interlock.watch.catalogue import CATALOGUE, AlarmKind
from interlock.watch.state import AlarmPhase, Priority


class Alarm:
    """One code on one subject.

    :meth:`trip`, :meth:`clear`, :meth:`ack` and so on return whether the visible state changed; a refused
    action (``–`` in the table) returns False and changes nothing.
    """

    __slots__ = (
        "acked",
        "active",
        "clear_due_s",
        "cleared_s",
        "clears_shelf",
        "first_out",
        "group",
        "index",
        "kind",
        "latched",
        "out_of_service",
        "priority",
        "said",
        "shelved_until_s",
        "since_s",
        "subject",
        "suppressed",
        "text",
        "tripped_seq",
        "values",
    )

    def __init__(self, code: str, subject: str, index: int = 0) -> None:
        self.index = index
        """Its place in the desk's list of alarms."""
        self.kind: AlarmKind = CATALOGUE[code]
        self.subject = subject
        self.priority: Priority = self.kind.priority
        self.active = self.latched = self.suppressed = self.out_of_service = False
        self.acked = True
        self.shelved_until_s: float | None = None
        self.clears_shelf = False
        """Shelved until the condition clears, at the longest until ``shelved_until_s``."""
        self.first_out = False
        self.group: int | None = None
        self.text = ""
        self.values: dict[str, float | str | bool | None] = {}
        self.since_s: float | None = None
        self.clear_due_s: float | None = None
        self.cleared_s = -math.inf
        self.tripped_seq = -1
        self.said: AlarmPhase = "normal"

    @property
    def code(self) -> str:
        """As in the catalogue."""
        return self.kind.code

    @property
    def state(self) -> AlarmPhase:
        """The projection of the bits."""
        if self.out_of_service:
            return "out-of-service"
        if self.shelved_until_s is not None:
            return "shelved"
        if self.suppressed:
            return "suppressed"
        if self.active:
            return "acknowledged" if self.acked else "unacknowledged"
        if self.latched:
            return "latched-acknowledged" if self.acked else "latched-unacknowledged"
        return "normal" if self.acked else "returned-unacknowledged"

    @property
    def quiet(self) -> bool:
        """Followed silently."""
        return self.out_of_service or self.shelved_until_s is not None or self.suppressed

    @property
    def visible(self) -> AlarmPhase:
        """What is worth a line: an alarm that is suppressed before anything happened stays normal."""
        state = self.state
        return "normal" if state == "suppressed" and self.said == "normal" else state

    def trip(self) -> bool:
        """The condition has come."""
        if self.active:
            return False
        self.active = True
        self.acked = False
        if self.kind.latching:
            self.latched = True
        return True

    def clear(self) -> bool:
        """The condition has gone."""
        if not self.active:
            return False
        self.active = False
        if self.clears_shelf:
            self.unshelve()
        return True

    def ack(self) -> bool:
        """Somebody has seen it."""
        if self.quiet or self.acked:
            return False
        self.acked = True
        return True

    def reset(self) -> bool:
        """Somebody has put right what latched it."""
        if self.quiet or self.active or not self.latched or not self.acked:
            return False
        self.latched = False
        return True

    def shelve(self, until_s: float, *, until_clear: bool = False) -> bool:
        """Quiet until ``until_s``, or sooner if the condition clears and that was asked for."""
        if self.out_of_service or self.suppressed or self.shelved_until_s is not None:
            return False
        self.shelved_until_s = until_s
        self.clears_shelf = until_clear
        return True

    def unshelve(self) -> bool:
        """Back on the board."""
        if self.shelved_until_s is None:
            return False
        self.shelved_until_s = None
        self.clears_shelf = False
        self._back()
        return True

    def suppress(self, on: bool) -> bool:
        """By design, on and off."""
        if self.suppressed == on:
            return False
        self.suppressed = on
        if not on:
            self._back()
        return True

    def take_out(self, on: bool) -> bool:
        """Out of service and back in."""
        if self.out_of_service == on:
            return False
        self.out_of_service = on
        if not on:
            self._back()
        return True

    def _back(self) -> None:
        # Leaving quiet: normal if the condition is clear, unacknowledged if not.
        if self.quiet:
            return
        self.acked = not self.active
        self.latched = self.active and self.kind.latching
