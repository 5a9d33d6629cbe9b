"""What drivers say: readings, and how an adapter's inputs are wired to signals.

A *signal* is named as in the show file: ``4.run``, ``4.lamp``, ``4.dowser``, ``4.film``,
``4.frames``, ``4>3.tight``, ``4>3.spill``, ``4>3.arm``, ``feed.run``, ``take-up.run``. Drivers put
names, not input numbers, into their readings; :class:`Wiring` is the one way from the one to the other.

Every reading has ``at_s``, the desk second at which it was received, and ``fact_s``, the desk second
at which it was true (never later than ``at_s``). Readings are frozen; one is made for each line of an
adapter, not one for each input, because four hours of sixteen houses are a million lines.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal, TypeAlias

import msgspec

HOUSE_CONTACTS = ("run", "lamp", "dowser", "film")
LINK_CONTACTS = ("tight", "spill")
PLATTERS = ("feed", "take-up")


class Contacts(msgspec.Struct, frozen=True, tag="contacts", array_like=True, gc=False):
    """Contacts of one adapter, all true of the same instant; an edge is a value that differs from the one before.

    ``values``: (signal, state) in the order of the wiring, inversion already undone. A driver may
    give all contacts or only those that changed. ``missing``: words of the adapter are missing between this one and the
    contacts told before it, so that a change need not be of ``fact_s``: it may be of any moment since those.
    """

    at_s: float
    fact_s: float
    adapter: str
    values: tuple[tuple[str, bool], ...]
    missing: bool = False


class Counts(msgspec.Struct, frozen=True, tag="counts", array_like=True, gc=False):
    """Frame counters of one adapter.

    ``values``: (signal, frames since the adapter's power-up, desk second of the latest pulse or None
    before the first). Wraps are already undone: within one life of the adapter frames never fall.
    """

    at_s: float
    fact_s: float
    adapter: str
    values: tuple[tuple[str, float, float | None], ...]


class Positions(msgspec.Struct, frozen=True, tag="positions", array_like=True, gc=False):
    """Accumulator arms of one adapter. ``values``: (signal, position), −1 at the tight limit, +1 at the spill limit."""

    at_s: float
    fact_s: float
    adapter: str
    values: tuple[tuple[str, float], ...]


class Presence(msgspec.Struct, frozen=True, tag="presence", array_like=True, gc=False):
    """Comings and goings of an adapter, and how its line is.

    ``up``: it speaks (also sent as a sign of life where nothing else is said for 250 ms, and after a
    silence once its present state has been taken up). ``gone``: its device is not there; said at once, the desk
    judges silence by itself. ``restarted``: it began anew, counts begin at 0 again. ``lines``,
    ``bad_lines``, ``lost_lines``: since the driver was started.
    """

    at_s: float
    fact_s: float
    adapter: str
    state: Literal["up", "gone", "restarted"]
    lines: int = 0
    bad_lines: int = 0
    lost_lines: int = 0
    text: str = ""


Reading: TypeAlias = Contacts | Counts | Positions | Presence


class CounterWire(msgspec.Struct, frozen=True):
    """One counter: its signal (``4.frames``) and how many frames a pulse is."""

    signal: str
    frames_per_pulse: float = 1.0


class AnalogWire(msgspec.Struct, frozen=True):
    """One accumulator arm: its signal (``4>3.arm``) and the raw values at its two limits (either may be the larger)."""

    signal: str
    tight_at: float
    spill_at: float

    def position(self, raw: float) -> float:
        """−1 at ``tight_at``, +1 at ``spill_at``, linear between and beyond."""
        return 2.0 * (raw - self.tight_at) / (self.spill_at - self.tight_at) - 1.0


class Wiring(msgspec.Struct, frozen=True):
    """How an adapter's inputs are wired. Keys are input numbers; level values are signals, ``!`` for closed-means-false."""

    levels: dict[int, str] = {}
    counters: dict[int, CounterWire] = {}
    analogs: dict[int, AnalogWire] = {}

    def contacts(self, mask: int) -> tuple[tuple[str, bool], ...]:
        """Signal values of a level mask (bit k: input k closed), in order of input number."""
        return tuple(
            (s[1:], not mask >> k & 1) if s.startswith("!") else (s, bool(mask >> k & 1))
            for k, s in sorted(self.levels.items())
        )

    def signals(self) -> frozenset[str]:
        """Every signal that this adapter reports."""
        return frozenset(
            {s.removeprefix("!") for s in self.levels.values()}
            | {c.signal for c in self.counters.values()}
            | {a.signal for a in self.analogs.values()}
        )


class AdapterSpec(msgspec.Struct, frozen=True):
    """An ``[[adapter]]`` of the show file, as its driver gets it: ``options`` are the keys that only the driver knows."""

    name: str
    driver: str
    options: Mapping[str, object] = {}
    wiring: Wiring = Wiring()


def finite(value: float) -> bool:
    """True for a number that may be reckoned with (a counter or a stamp from outside may be anything)."""
    return math.isfinite(value)
