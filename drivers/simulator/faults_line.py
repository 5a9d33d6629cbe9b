"""What can go wrong between the booth and the desk: contacts, counters, adapters and their lines."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from drivers.simulator.fault_model import Adapter, FaultModel, House, Signal, Standing, span
from drivers.simulator.quantity import Portion, Span


class DeadCounter(Standing):
    """A house's frame counter gives no more pulses."""

    kind: Literal["dead-counter"] = "dead-counter"
    house: House
    for_s: Span | None = span()


class StuckContact(Standing):
    """A contact no longer moves, whatever happens."""

    kind: Literal["stuck-contact"] = "stuck-contact"
    signal: Signal
    value: bool | None = Field(default=None, description="stuck true or false; without it as it is then")
    for_s: Span | None = span()


class Chatter(FaultModel):
    """A contact chatters: it opens and closes at random."""

    kind: Literal["chatter"] = "chatter"
    signal: Signal
    for_s: Span = Field(default=5.0, alias="for", description="for how long")
    every_s: Span = Field(default=0.15, alias="every", description="how often it changes, on average")


class Silence(FaultModel):
    """An adapter says nothing; it goes on counting."""

    kind: Literal["silence"] = "silence"
    adapter: Adapter
    for_s: Span = Field(alias="for", description="for how long")


class Unplug(FaultModel):
    """An adapter's plug is pulled: its device is gone; it goes on counting."""

    kind: Literal["unplug"] = "unplug"
    adapter: Adapter
    for_s: Span = Field(alias="for", description="for how long")


class Restart(FaultModel):
    """An adapter restarts: its counts begin at 0 again."""

    kind: Literal["restart"] = "restart"
    adapter: Adapter
    for_s: Span = Field(default=0.4, alias="for", description="how long it takes to come back")


class RestartOnStrike(Standing):
    """An adapter restarts when the next lamp of one of its houses is struck."""

    kind: Literal["restart-on-strike"] = "restart-on-strike"
    adapter: Adapter


class Damaged(Standing):
    """Some of an adapter's lines come in damaged and are dropped for it."""

    kind: Literal["damaged"] = "damaged"
    adapter: Adapter
    share: Portion = Field(description='how many, as in "5 %"')
    for_s: Span | None = span()


class Dropped(Standing):
    """Some of an adapter's lines are lost on the way."""

    kind: Literal["dropped"] = "dropped"
    adapter: Adapter
    share: Portion = Field(description='how many, as in "5 %"')
    for_s: Span | None = span()


class Doubled(Standing):
    """Some of an adapter's lines come in twice."""

    kind: Literal["doubled"] = "doubled"
    adapter: Adapter
    share: Portion = Field(description='how many, as in "5 %"')
    for_s: Span | None = span()


class Delayed(Standing):
    """Some of an adapter's lines come in late, and so out of their order."""

    kind: Literal["delayed"] = "delayed"
    adapter: Adapter
    share: Portion = Field(description='how many, as in "5 %"')
    by_s: Span = Field(default=1.0, alias="by", description="how late, at most")
    for_s: Span | None = span()


class Jitter(Standing):
    """All of an adapter's lines come in late by chance, in their order."""

    kind: Literal["jitter"] = "jitter"
    adapter: Adapter
    by_s: Span = Field(alias="by", description="how late, at most")
    for_s: Span | None = span()
