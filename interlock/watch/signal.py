"""One wired contact and one wired counter: the newest word, and whether it may still hold."""

from __future__ import annotations

import math


class Signal:
    """One wired contact: its newest value, and whether that may still hold.

    ``fact_s`` is the newest fact's date, ``since_s`` that of the last change. ``now`` is None while unknown. ``overruled_s``: up
    to this date words of the other value are known to have been repeats from before the change.
    """

    __slots__ = ("fact_s", "known", "overruled_s", "since_s", "value", "wired")

    def __init__(self) -> None:
        self.wired = False
        self.known = False
        self.value: bool | None = None
        self.fact_s = -math.inf
        self.since_s = -math.inf
        self.overruled_s = -math.inf

    @property
    def now(self) -> bool | None:
        """The value, None where it may no longer hold."""
        return self.value if self.known else None


SETTLED_S = 10.0
"""So long the dates of an adapter that has begun anew may still move: only its own lines tell how long they are on their way.
What a date moves is no speed. As long as `drivers/ticks.py` lets its map jump."""
SETTLING_SIGMA_S = 0.005
"""1-sigma of a pulse's date meanwhile (common practice without source)."""


class Counter:
    """One wired frame counter. ``base_fr`` is the count at which the machine had run no frame.

    ``settled_s``: from then on its dates are what they are. ``unsettled``: the speed that is believed is from before a gap, or
    from dates that were yet to settle; the next sure pulse opens it.
    """

    __slots__ = (
        "anchor_anew",
        "base_fr",
        "fact_s",
        "frames_per_pulse",
        "hand_first_fr",
        "hand_from_fr",
        "hand_since_s",
        "known",
        "last_fr",
        "last_pulse_s",
        "settled_s",
        "unsettled",
        "wired",
    )

    def __init__(self) -> None:
        self.wired = False
        self.known = False
        self.settled_s = -math.inf
        self.unsettled = False
        self.frames_per_pulse = 1.0
        self.fact_s = -math.inf
        self.last_fr = self.base_fr = 0.0
        self.last_pulse_s = -math.inf
        self.hand_from_fr: float | None = None
        self.hand_first_fr = 0.0
        self.hand_since_s = 0.0
        self.anchor_anew = False
