"""What all faults of a rehearsal have in common."""

from __future__ import annotations

from typing import Annotated, ClassVar, TypeAlias

from pydantic import BaseModel, ConfigDict, Field

from drivers.simulator.quantity import Span, Time

House: TypeAlias = Annotated[str, Field(description="the house", max_length=8)]
Link: TypeAlias = Annotated[str, Field(description="the link, as in 4>3", max_length=17)]
Adapter: TypeAlias = Annotated[str, Field(description="the adapter's name", max_length=64)]
Signal: TypeAlias = Annotated[str, Field(description="the signal, as in 4.run", max_length=32)]


def span(text: str = "for how long; without it to the end of the show") -> Span | None:
    return Field(default=None, alias="for", description=text)


class FaultModel(BaseModel):
    """``at_s``: plan time; None means from the beginning in a scenario, and now when thrown in by hand."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    moment: ClassVar[bool] = True
    """It happens at a moment, so a scenario has to say when."""
    at_s: Time | None = Field(default=None, alias="at", description='when, as in "00:12:30" of plan time')


class Standing(FaultModel):
    moment: ClassVar[bool] = False
