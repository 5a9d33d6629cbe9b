"""A counter that is only polled: its wraps undone, its restarts noticed, its latest pulse dated as well as can be."""

from __future__ import annotations

FASTEST_HZ = 1000.0
"""More pulses a second than any gate gives; what goes faster was no counting."""
SLACK = 1000
"""Pulses at once that are no wonder: some modules bring their registers up to date only once a second."""


class PolledCounter:
    """``total``: pulses of this life. ``pulse_s``: desk second of the latest, None before one was seen to come.

    Between two polls n pulses came at times that nobody knows; evenly spread, the latest was half an
    n-th of the gap ago, give or take as much. A fall is a wrap if so many pulses can have come in the gap,
    and less than half of the circle; any other fall, or a rise that no machine makes, is a restart.
    """

    def __init__(self, modulus: int) -> None:
        self._modulus = modulus
        self._raw: int | None = None
        self._at_s = 0.0
        self.total = 0
        self.pulse_s: float | None = None

    def restarts(self, raw: int, at_s: float) -> bool:
        """Whether this raw count, true at ``at_s``, can only be of a new life. Changes nothing."""
        if self._raw is None:
            return False
        possible = min(SLACK + FASTEST_HZ * (at_s - self._at_s), self._modulus // 2)
        return (raw - self._raw) % self._modulus > possible

    def begin_anew(self) -> None:
        """Forget the life that was."""
        self._raw, self.total, self.pulse_s = None, 0, None

    def take(self, raw: int, at_s: float) -> None:
        """The raw count as it was at ``at_s``."""
        raw %= self._modulus
        if self._raw is None:
            self.total = raw
        elif new := (raw - self._raw) % self._modulus:
            self.total += new
            self.pulse_s = at_s - (at_s - self._at_s) / (2 * new)
        self._raw, self._at_s = raw, at_s
