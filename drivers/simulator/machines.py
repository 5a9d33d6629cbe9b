"""What the simulator is told of the booth: frozen specs that the composition root fills from the show.

Drivers know no show file; so whatever the machines need of it stands here, in frames and seconds.
Houses and loops stand in film order: ``loops[k]`` runs from ``machines[k]`` to ``machines[k + 1]``.
Shares are parts of one.
"""

from __future__ import annotations

from functools import cached_property
from typing import Literal, TypeAlias

import msgspec

from interlock.signals import AdapterSpec

Motor: TypeAlias = Literal["synchronous", "induction", "crystal"]


class MachineSpec(msgspec.Struct, frozen=True):
    """One house and its machine, as in the show file.

    ``film_sensor_fr``: where the film contact sits along the film, negative before the gate.
    ``lit``: a picture is wanted here, so that the crew strikes a lamp and opens the dowser.
    """

    house: str
    motor: Motor = "synchronous"
    supply: str = "mains"
    speed_tolerance: float = 0.0
    start_delay_s: float = 0.0
    start_scatter_s: float = 0.25
    ramp_s: float = 1.0
    ramp_scatter_s: float = 0.1
    coast_s: float = 0.3
    lamp_lead_s: float = 45.0
    dowser_lead_s: float = 1.0
    film_sensor_fr: float = 0.0
    lit: bool = True


class LoopSpec(msgspec.Struct, frozen=True):
    """The film between two neighbouring gates. Limits are frames of drift, both positive."""

    upstream: str
    downstream: str
    path_fr: float
    path_tolerance: float = 0.0
    tight_fr: float = 48.0
    spill_fr: float = 48.0
    wired: bool = False

    @property
    def id(self) -> str:
        """As everywhere else: ``4>3``."""
        return f"{self.upstream}>{self.downstream}"


class SimSpec(msgspec.Struct, frozen=True, dict=True):
    """The whole booth. ``first_picture_fr``: film from the first gate up to the first picture frame, as threaded.

    ``length_fr``: frames of the print from the first picture frame to the end of the tail.
    ``picture_spans``: (first frame, frame after the last) of each stretch on which the dowser is to be open.
    ``feed_fr`` and ``take_up_fr``: film from the feed platter to the first gate and from the last to the
    take-up; None where there is none. ``adapters``: all of the show, whatever their driver is there.
    """

    fps: float
    first_picture_fr: float
    length_fr: float
    machines: tuple[MachineSpec, ...]
    loops: tuple[LoopSpec, ...]
    picture_spans: tuple[tuple[float, float], ...] = ()
    feed_fr: float | None = None
    take_up_fr: float | None = None
    adapters: tuple[AdapterSpec, ...] = ()

    @cached_property
    def houses(self) -> tuple[str, ...]:
        """The houses in film order."""
        return tuple(m.house for m in self.machines)

    @cached_property
    def signals(self) -> frozenset[str]:
        """Every signal that an adapter reports."""
        return frozenset().union(*(a.wiring.signals() for a in self.adapters))
