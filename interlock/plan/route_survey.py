"""What was measured between the houses of a booth: how much film, how many rollers, which hazards.

A measure holds both ways unless the other way was measured by itself. What the show file's own links say
is measured too; a table of distances says it better and takes its place.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from interlock.errors import UsageError
from interlock.showfile.show import Link, Show

Array: TypeAlias = NDArray[np.float64]
Aim: TypeAlias = Literal["film", "rollers", "crossings"]
AIMS: tuple[Aim, ...] = ("film", "rollers", "crossings")
PLATTERS = ("feed", "take-up")

# One more roller (or crossing) outweighs any film; then less film decides, and among equal film fewer of the
# others.
_OUTWEIGHS_FR = 1e7
_TIE_FR = 1e-6


@dataclass(frozen=True, slots=True)
class Leg:
    """From one gate to another. ``film_fr``: all film between, loops at rest included, in frames by the
    pitch; infinite where the link cannot be made. ``rollers`` and ``crosses`` are None where nobody counted
    them."""

    film_fr: float
    rollers: int | None = None
    crosses: tuple[str, ...] | None = None

    @property
    def possible(self) -> bool:
        """Whether film can run here at all."""
        return math.isfinite(self.film_fr)


IMPOSSIBLE = Leg(math.inf)
Legs: TypeAlias = Mapping[tuple[str, str], Leg]


@dataclass(frozen=True, slots=True)
class Survey:
    """Houses to be joined, and every leg that was measured, one way each. ``forbidden``: measured and ruled
    out."""

    houses: tuple[str, ...]
    legs: Legs

    def leg(self, start: str, end: str) -> Leg | None:
        """None where nothing was measured."""
        return self.legs.get((start, end))

    @property
    def forbidden(self) -> tuple[tuple[str, str], ...]:
        """Ways between the show's houses that were ruled out."""
        return tuple(
            (a, b)
            for a in self.houses
            for b in self.houses
            if (leg := self.leg(a, b)) is not None and not leg.possible
        )

    @property
    def unmeasured(self) -> tuple[tuple[str, str], ...]:
        """Ways between the show's houses that nobody measured."""
        return tuple((a, b) for a in self.houses for b in self.houses if a != b and self.leg(a, b) is None)

    def platter(self, name: str) -> bool:
        """Whether ``feed`` or ``take-up`` was measured to every house, so that it can take part in the
        choice."""
        return all(self._platter_leg(name, house) is not None for house in self.houses)

    def ways(self, order: Iterable[str]) -> tuple[tuple[str, str], ...]:
        """The legs of an order of houses, platters included where they take part."""
        stops = list(order)
        if self.platter("feed"):
            stops.insert(0, "feed")
        if self.platter("take-up"):
            stops.append("take-up")
        return tuple(itertools.pairwise(stops))

    def _platter_leg(self, name: str, house: str) -> Leg | None:
        return self.leg(name, house) if name == "feed" else self.leg(house, name)

    def counted(self, aim: Aim) -> bool:
        """Whether every possible leg that may be chosen has this counted."""
        taking_part = {*self.houses, *(p for p in PLATTERS if self.platter(p))}
        legs = [leg for (a, b), leg in self.legs.items() if {a, b} <= taking_part and leg.possible]
        if aim == "rollers":
            return all(leg.rollers is not None for leg in legs)
        if aim == "crossings":
            return all(leg.crosses is not None for leg in legs)
        return True

    def costs(self, aim: Aim, first: str | None, last: str | None) -> tuple[Array, Array, Array]:
        """``cost`` (n, n), ``begin`` and ``end`` (n,) for a solver, in frames of film or what outweighs
        them."""
        n = len(self.houses)
        cost = np.full((n, n), np.inf)
        for i, a in enumerate(self.houses):
            for j, b in enumerate(self.houses):
                if i != j:
                    cost[i, j] = _cost(self.leg(a, b), aim)
        begin, end = np.zeros(n), np.zeros(n)
        for j, house in enumerate(self.houses):
            if self.platter("feed"):
                begin[j] = _cost(self.leg("feed", house), aim)
            if self.platter("take-up"):
                end[j] = _cost(self.leg(house, "take-up"), aim)
            if first is not None and house != first:
                begin[j] = np.inf
            if last is not None and house != last:
                end[j] = np.inf
        return cost, begin, end


def _cost(leg: Leg | None, aim: Aim) -> float:
    if leg is None or not leg.possible:
        return math.inf
    rollers, crossings = leg.rollers or 0, len(leg.crosses or ())
    if aim == "rollers":
        return rollers * _OUTWEIGHS_FR + leg.film_fr + crossings * _TIE_FR
    if aim == "crossings":
        return crossings * _OUTWEIGHS_FR + leg.film_fr + rollers * _TIE_FR
    return leg.film_fr + (rollers + crossings) * _TIE_FR


def both_ways(legs: Legs) -> dict[tuple[str, str], Leg]:
    """With the way back filled in from the way there, where nobody measured it by itself."""
    filled = {(b, a): leg for (a, b), leg in legs.items() if a not in PLATTERS and b not in PLATTERS}
    return {**filled, **legs}


def survey_of(show: Show, measured: Legs, forbid: Iterable[str] = ()) -> Survey:
    """The show's houses with its own links, and over them its distances, and over them ``measured``.

    ``forbid``: links as ``4>3`` that must not be made, that way only. Raises ``UsageError`` for one that is
    none.
    """
    houses = tuple(h.id for h in show.houses)
    given = (link for link in (show.feed, *show.links, show.take_up) if link)
    own = both_ways({(link.upstream, link.downstream): leg_of(link) for link in given})
    table = {
        (d.upstream, d.downstream): Leg(math.inf if d.path_fr is None else d.path_fr, d.rollers, d.crosses)
        for d in show.distances
    }
    legs = dict(own)
    for way, leg in {**both_ways(table), **both_ways(measured)}.items():
        there = own.get(way, leg)
        # A table of lengths alone does not take away what the show file counted.
        rollers = there.rollers if leg.rollers is None else leg.rollers
        crosses = there.crosses if leg.crosses is None else leg.crosses
        legs[way] = Leg(leg.film_fr, rollers, crosses)
    for word in forbid:
        start, _, end = word.partition(">")
        if start not in houses or end not in houses or start == end:
            raise UsageError(
                f"--forbid {word}: no link between two houses of this show, written as {_example(houses)}"
            )
        legs[start, end] = IMPOSSIBLE
    return Survey(houses, legs)


def leg_of(link: Link) -> Leg:
    """What a link of the show says of its way."""
    return Leg(link.path_fr, len(link.rollers), link.crosses)


def _example(houses: tuple[str, ...]) -> str:
    return f"{houses[0]}>{houses[-1]}"
