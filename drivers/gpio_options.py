"""What a show file says of ``driver = "gpio"``: which lines of the computer's own GPIO chip are which input.

::

    [[adapter]]
    name   = "booth"
    driver = "gpio"
    chip   = "gpiochip0"                        # a device, its name, or its label
    level_lines   = { 0 = "GPIO17", 1 = 27 }    # input = the line's name or its offset
    counter_lines = { 0 = "GPIO22" }
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, StrictInt, StrictStr, model_validator

Line: TypeAlias = (
    Annotated[StrictStr, Field(min_length=1, max_length=64)] | Annotated[StrictInt, Field(ge=0, le=4095)]
)
Number: TypeAlias = Annotated[int, Field(ge=0, le=1023)]


class GpioOptions(BaseModel):
    """Keys of ``[[adapter]]`` for ``driver = "gpio"``."""

    model_config = ConfigDict(extra="forbid")

    chip: Annotated[StrictStr, Field(min_length=1, max_length=200)] = "gpiochip0"
    """``/dev/gpiochip0``, ``gpiochip0``, or the chip's label."""
    level_lines: dict[Number, Line] = Field({}, max_length=64)
    counter_lines: dict[Number, Line] = Field({}, max_length=64)
    pull: Literal["up", "down", "none", "as-is"] = "up"
    """``up``: for contacts to ground, as on the wiring page."""
    closed_is: Literal["low", "high"] = "low"
    """What a closed contact makes of its line."""
    debounce_us: Annotated[StrictInt, Field(ge=0, le=100_000)] = 5000
    """A contact has changed when it has kept still for so long; done by the kernel."""
    counter_debounce_us: Annotated[StrictInt, Field(ge=0, le=100_000)] = 0
    """The same of counters. A pulse of a 24 fps shaft may be short: only for contacts that bounce."""

    @model_validator(mode="after")
    def _once(self) -> GpioOptions:
        lines = [str(line) for line in (*self.level_lines.values(), *self.counter_lines.values())]
        for line in lines:
            if lines.count(line) > 1:
                raise ValueError(f"line {line} is given to two inputs")
        return self
