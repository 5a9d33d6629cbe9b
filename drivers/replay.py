"""A record's readings in an adapter's place, at their own pace.

Drivers know no records: the composition root hands the readings over with :meth:`ReplayDriver.load` (all of
them; the driver takes those of its adapter). They are emitted in order, moved in time as one: the
first reading of the record at the moment at which the driver starts, or at ``begin_s`` if that is given.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

import msgspec
from pydantic import BaseModel, ConfigDict, Field

from drivers.driver import Emit, read_options
from interlock.clock import Clock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec, Counts, Presence, Reading


class ReplayOptions(BaseModel):
    """Keys of ``[[adapter]]`` for ``driver = "replay"``."""

    model_config = ConfigDict(extra="forbid")

    record: str = Field(
        min_length=1, description="the record's file, read by the program that starts the driver"
    )
    adapter: str | None = Field(
        default=None, description="the adapter's name in the record, if it had another"
    )


class ReplayDriver:
    """Serves one adapter from a record."""

    Options: ClassVar[type[BaseModel]] = ReplayOptions

    def __init__(self, spec: AdapterSpec, clock: Clock) -> None:
        """Raises ``OptionError`` if the options make no sense."""
        options = read_options(ReplayOptions, spec)
        self.record = options.record
        self._name = spec.name
        self._recorded_as = options.adapter or spec.name
        self._clock = clock
        self._readings: Iterable[Reading] | None = None
        self._begin_s: float | None = None

    def load(self, readings: Iterable[Reading], begin_s: float | None = None) -> None:
        """The readings of a record, in order. ``begin_s``: desk second of the record that is the driver's start."""
        self._readings = readings
        self._begin_s = begin_s

    async def run(self, emit: Emit) -> None:
        """Emit them at their own pace, then say that the device is gone, and wait until cancelled."""
        if self._readings is None:
            raise OptionError(f"adapter {self._name} (replay): nobody has loaded the record {self.record}")
        start_s = self._clock.now_s()
        shift_s: float | None = None if self._begin_s is None else start_s - self._begin_s
        for reading in self._readings:
            if shift_s is None:
                shift_s = start_s - reading.at_s
            if reading.adapter != self._recorded_as:
                continue
            moved = _moved(reading, shift_s, self._name)
            await self._clock.sleep_until(moved.at_s)
            emit(moved)
        now_s = self._clock.now_s()
        emit(Presence(now_s, now_s, self._name, "gone", text="the record ends here"))
        while True:
            await self._clock.sleep_until(self._clock.now_s() + 3600.0)


def _moved(reading: Reading, by_s: float, name: str) -> Reading:
    """The same reading ``by_s`` later; whatever it dates moves with it."""
    at_s, fact_s = reading.at_s + by_s, reading.fact_s + by_s
    if isinstance(reading, Counts):
        values = tuple((s, n, None if p is None else p + by_s) for s, n, p in reading.values)
        return Counts(at_s, fact_s, name, values)
    return msgspec.structs.replace(reading, at_s=at_s, fact_s=fact_s, adapter=name)
