"""Asking an adapter who it is, and knowing later which question an answer is to."""

from __future__ import annotations

from collections.abc import Callable

from drivers.wire import SEQ_MODULUS, TICK_MASK, encode

KEPT = 16


class Asking:
    """The ``ID``s that were sent. ``asked_s``: the latest; ``answered``: there is nothing to be asked for."""

    def __init__(self, send: Callable[[bytes], None]) -> None:
        self._send = send
        self._asked: dict[int, float] = {}
        self._seq = 0
        self.asked_s = 0.0
        self.answered = False

    def ask(self, at_s: float) -> None:
        """Send an ``ID``."""
        seq = self._seq
        self._seq = (seq + 1) % SEQ_MODULUS
        self._asked[seq] = self.asked_s = at_s
        while len(self._asked) > KEPT:
            del self._asked[next(iter(self._asked))]
        self.answered = False
        self._send(encode("ID", seq, int(at_s * 1000) & TICK_MASK))

    def when(self, seq: int, else_s: float) -> float:
        """When the ``ID`` of this SEQ was sent, as far as that is still known."""
        return self._asked.get(seq, else_s)
