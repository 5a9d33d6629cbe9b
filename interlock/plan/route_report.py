"""Everything that ``longlace route`` says: the best order of houses, what it costs, and what other choices
would.

The JSON document (``Route.as_json``), houses in film order::

    {"houses": n, "by": "film", "method": "exact" | "solver", "proven": true,
     "best": ORDER or null,               null: no order joins all houses
     "own": ORDER or null,                the show's chain; null where it uses a way that cannot be made
     "saves": {"film_fr", "film_ft", "rollers", "crossings"} or null,     own minus best
     "alternatives": [{"by": "rollers", …ORDER}, …],    the best by each other aim
     "first": [{"house", …ORDER}, …],     the best for each house that might be first, the cheapest first;
     "last": [{"house", …ORDER}, …],      [] where it is fixed
     "forbidden": ["4>3", …], "unmeasured": ["2>5", …], "notes": ["…"]}

    ORDER = {"order": ["4", …], "film_fr", "film_ft", "rollers", "crossings",
             "links": [{"link": "4>3", "film_fr", "film_ft", "rollers", "crosses": ["doorway"]}, …]}

``film_fr`` in frames by the film's pitch, ``film_ft`` the same in tape feet; ``rollers``, ``crossings`` and
``crosses`` are null where they were not counted. Where feed or take-up were measured to every house they take
part and stand among the links.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from interlock.film import FilmFormat
from interlock.plan.route_survey import AIMS, Aim, Leg, Survey


@dataclass(frozen=True, slots=True)
class Order:
    """One order of houses and its ways, platters included where they take part. None: not counted
    everywhere."""

    houses: tuple[str, ...]
    ways: tuple[tuple[str, Leg], ...]

    @property
    def film_fr(self) -> float:
        """All film between the first and the last of its gates (or platters)."""
        return math.fsum(leg.film_fr for _, leg in self.ways)

    @property
    def rollers(self) -> int | None:
        """All rollers on the way."""
        counts = [leg.rollers for _, leg in self.ways]
        return None if None in counts else sum(c for c in counts if c is not None)

    @property
    def crossings(self) -> int | None:
        """How many times the film crosses something that it should not: doorways, corridors, stairs."""
        lists = [leg.crosses for _, leg in self.ways]
        return None if None in lists else sum(len(c) for c in lists if c is not None)

    def as_json(self, film: FilmFormat) -> dict[str, object]:
        """ORDER above."""
        return {
            "order": list(self.houses),
            "film_fr": self.film_fr,
            "film_ft": film.tape_ft_from_frames(self.film_fr),
            "rollers": self.rollers,
            "crossings": self.crossings,
            "links": [
                {
                    "link": name,
                    "film_fr": leg.film_fr,
                    "film_ft": film.tape_ft_from_frames(leg.film_fr),
                    "rollers": leg.rollers,
                    "crosses": None if leg.crosses is None else list(leg.crosses),
                }
                for name, leg in self.ways
            ],
        }


@dataclass(frozen=True, slots=True)
class Route:
    """The answer. ``best`` is None where no order joins all houses; ``own`` where the show's chain cannot be
    made."""

    survey: Survey
    film: FilmFormat
    by: Aim
    method: str
    proven: bool
    best: Order | None
    own: Order | None
    alternatives: tuple[tuple[Aim, Order], ...]
    first: tuple[Order, ...]
    last: tuple[Order, ...]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """The document described at the top. Plain values only."""
        film = self.film
        return {
            "houses": len(self.survey.houses),
            "by": self.by,
            "method": self.method,
            "proven": self.proven,
            "best": self.best.as_json(film) if self.best else None,
            "own": self.own.as_json(film) if self.own else None,
            "saves": self._saves(),
            "alternatives": [{"by": by, **order.as_json(film)} for by, order in self.alternatives],
            "first": [{"house": order.houses[0], **order.as_json(film)} for order in self.first],
            "last": [{"house": order.houses[-1], **order.as_json(film)} for order in self.last],
            "forbidden": [f"{a}>{b}" for a, b in self.survey.forbidden],
            "unmeasured": [f"{a}>{b}" for a, b in self.survey.unmeasured],
            "notes": list(self.notes),
        }

    def _saves(self) -> dict[str, float | int | None] | None:
        if self.best is None or self.own is None:
            return None
        film_fr = self.own.film_fr - self.best.film_fr
        return {
            "film_fr": film_fr,
            "film_ft": self.film.tape_ft_from_frames(film_fr),
            "rollers": _less(self.own.rollers, self.best.rollers),
            "crossings": _less(self.own.crossings, self.best.crossings),
        }


def order_of(survey: Survey, houses: tuple[str, ...]) -> Order | None:
    """An order with what was measured on its ways; None if one of them was not, or cannot be made."""
    ways: list[tuple[str, Leg]] = []
    for start, end in survey.ways(houses):
        leg = survey.leg(start, end)
        if leg is None or not leg.possible:
            return None
        ways.append((f"{start}>{end}", leg))
    return Order(houses, tuple(ways))


def other_aims(by: Aim) -> tuple[Aim, ...]:
    """The aims that were not asked for."""
    return tuple(a for a in AIMS if a != by)


def _less(own: int | None, best: int | None) -> int | None:
    return None if own is None or best is None else own - best
