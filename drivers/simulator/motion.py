"""How a machine moves: pieces of constant acceleration, so that every crossing is solved and nothing is stepped.

A piece is ``(t_s, frames, fps, fps_per_s)``: from ``t_s`` on, ``frames + fps·τ + fps_per_s·τ²/2``, until the
next piece begins. Machines never run backwards but by hand, and film passed by hand is a jump of frames.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator
from typing import TypeAlias

Piece: TypeAlias = tuple[float, float, float, float]
_STILL = 1e-12


class Motion:
    """The pieces of one machine, oldest first. ``dropped``: how many older ones are forgotten."""

    __slots__ = ("dropped", "pieces")

    def __init__(self, t_s: float) -> None:
        self.pieces: list[Piece] = [(t_s, 0.0, 0.0, 0.0)]
        self.dropped = 0

    def begin(self, t_s: float, fps: float, fps_per_s: float = 0.0, jump_fr: float = 0.0) -> None:
        """From ``t_s`` (not before the last piece's begin) on it moves like this."""
        piece = (t_s, self.frames(t_s) + jump_fr, fps, fps_per_s)
        if self.pieces[-1][0] == t_s:
            self.pieces[-1] = piece
        else:
            self.pieces.append(piece)

    def _at(self, t_s: float) -> Piece:
        """The piece that holds at ``t_s``; the first for what is forgotten."""
        pieces = self.pieces
        # Nearly always the newest, or the one before: a piece lasts a second at least when at speed.
        if (piece := pieces[-1])[0] <= t_s:
            return piece
        if len(pieces) > 1 and (piece := pieces[-2])[0] <= t_s:
            return piece
        n = bisect_right(pieces, (t_s, math.inf))
        return pieces[n - 1] if n else pieces[0]

    def frames(self, t_s: float) -> float:
        """Frames run since threaded."""
        t0, f0, v, a = piece if (piece := self.pieces[-1])[0] <= t_s else self._at(t_s)
        dt = t_s - t0
        return f0 + dt * (v + 0.5 * a * dt)

    def fps(self, t_s: float) -> float:
        """Speed."""
        t0, _, v, a = self._at(t_s)
        return v + a * (t_s - t0)

    def when(self, frames: float, until_s: float) -> float | None:
        """When the newest piece reaches ``frames``, if by ``until_s``; its own begin if it was there already."""
        t0, f0, v, a = self.pieces[-1]
        tau = first_reach(f0 - frames, v, 0.5 * a)
        return t0 + tau if tau is not None and t0 + tau <= until_s else None

    def forget(self, before_s: float) -> None:
        """Drop the pieces that end before ``before_s``."""
        n = bisect_right(self.pieces, (before_s, math.inf)) - 1
        if n > 0:
            del self.pieces[:n]
            self.dropped += n


def roots(c: float, b: float, a: float) -> list[float]:
    """The real τ with ``c + b·τ + a·τ² = 0``, in order."""
    if abs(a) < _STILL:
        return [] if abs(b) < _STILL else [-c / b]
    disc = b * b - 4.0 * a * c
    if disc < 0.0:
        return []
    q = -0.5 * (b + math.copysign(math.sqrt(disc), b))
    found = {q / a}
    if q != 0.0:
        found.add(c / q)
    return sorted(found)


def first_reach(c: float, b: float, a: float) -> float | None:
    """The least τ ≥ 0 at which ``c + b·τ + a·τ²`` is at or above 0; None if never."""
    if c >= 0.0:
        return 0.0
    for tau in roots(c, b, a):
        if tau >= 0.0:
            return tau
    return None


def difference(up: Piece, down: Piece, t_s: float) -> tuple[float, float, float]:
    """(c, b, a) of frames(up) − frames(down) around ``t_s``: ``c + b·τ + a·τ²``."""
    tu, fu, vu, au = up
    td, fd, vd, ad = down
    du, dd = t_s - tu, t_s - td
    return (
        fu + du * (vu + 0.5 * au * du) - fd - dd * (vd + 0.5 * ad * dd),
        vu + au * du - vd - ad * dd,
        0.5 * (au - ad),
    )


def crossings(up: Motion, down: Motion, level_fr: float) -> Iterator[tuple[float, int]]:
    """Every (time, +1 rising or −1 falling) at which the drift passes ``level_fr``, exactly, in what is not forgotten.

    A jump (film passed by hand) is a crossing at its own time.
    """
    begins = sorted({p[0] for p in up.pieces} | {p[0] for p in down.pieces})
    above: bool | None = None
    i = j = 0
    for n, t_s in enumerate(begins):
        while i + 1 < len(up.pieces) and up.pieces[i + 1][0] <= t_s:
            i += 1
        while j + 1 < len(down.pieces) and down.pieces[j + 1][0] <= t_s:
            j += 1
        c, b, a = difference(up.pieces[i], down.pieces[j], t_s)
        c -= level_fr
        end = begins[n + 1] - t_s if n + 1 < len(begins) else math.inf
        # The side can change only at a root (or at a jump): it is told by the middle between two of them.
        cuts = [0.0, *(tau for tau in roots(c, b, a) if 0.0 < tau < end)]
        for k, tau in enumerate(cuts):
            next_tau = cuts[k + 1] if k + 1 < len(cuts) else min(end, tau + 2.0)
            middle = 0.5 * (tau + next_tau)
            value = c + middle * (b + a * middle)
            if abs(value) < 1e-9:
                continue
            if above is not None and above != (value > 0):
                yield t_s + tau, 1 if value > 0 else -1
            above = value > 0
