"""Everything that the desk folds: readings, and these. All of them are recorded in the order in which they were folded."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from interlock.signals import Contacts, Counts, Positions, Presence


class Tick(msgspec.Struct, frozen=True, tag="tick", array_like=True, gc=False):
    """Time has passed: every deadline up to ``at_s`` fires. More ticks change no event."""

    at_s: float


class Anchor(msgspec.Struct, frozen=True, tag="anchor", array_like=True, gc=False):
    """At desk second ``at_s`` the wall clock showed ``wall_s`` (UTC): at start and at each step over 50 ms."""

    at_s: float
    wall_s: float


class RecordHealth(msgspec.Struct, frozen=True, tag="record", array_like=True, gc=False):
    """Whether readings reach the disk; ``text`` says why not, or where to."""

    at_s: float
    ok: bool
    text: str = ""


class Action(msgspec.Struct, frozen=True, tag="action", omit_defaults=True, gc=False):
    """An operator action, checked at the door (``interlock.actions``). Keys as in contract.md; None where not given."""

    at_s: float
    action: str
    house: str | None = None
    link: str | None = None
    subject: str | None = None
    code: str | None = None
    group: int | None = None
    for_s: float | None = None
    until_clear: bool = False
    text: str | None = None
    frame: float | None = None
    n_fr: float | None = None
    drift_fr: float | None = None
    by: str | None = None
    booth: str | None = None
    x: float | None = None
    fault: str | None = None
    """A fault as a line of a scenario, in JSON."""


Input: TypeAlias = Contacts | Counts | Positions | Presence | Tick | Anchor | RecordHealth | Action
