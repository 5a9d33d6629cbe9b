"""The best order of a show's houses for the distances measured in its booths.

Exact to eighteen houses (:mod:`interlock.plan.route_exact`), beyond that by a general solver
(:mod:`interlock.plan.route_solver`). The best by film, by rollers or by crossings; first and last house
free or fixed; ways that cannot be made are never used.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from interlock.errors import UsageError
from interlock.plan.route_exact import MOST_HOUSES, Path, shortest_by_last, shortest_path
from interlock.plan.route_report import Order, Route, order_of, other_aims
from interlock.plan.route_solver import solve
from interlock.plan.route_survey import Aim, Legs, Survey, survey_of
from interlock.showfile.show import Show


def plan_route(
    show: Show,
    measured: Legs,
    *,
    by: Aim = "film",
    first: str | None = None,
    last: str | None = None,
    forbid: Iterable[str] = (),
) -> Route:
    """The best order and what it costs beside others.

    ``measured``: legs by (from, to), as ``route_csv.read_distances`` gives them. Raises ``UsageError`` for a
    house that is not in the show, an aim that nobody counted, a show of one house, or more houses than can be
    done with what is installed.
    """
    survey = survey_of(show, measured, forbid)
    _check(survey, by, first, last)
    few = len(survey.houses) <= MOST_HOUSES
    best, proven = _best(survey, by, first, last)
    return Route(
        survey=survey,
        film=show.film,
        by=by,
        method="exact" if few else "solver",
        proven=proven,
        best=best,
        own=order_of(survey, survey.houses),
        alternatives=tuple(
            (aim, order)
            for aim in other_aims(by)
            if survey.counted(aim) and (order := _best(survey, aim, first, last)[0]) is not None
        ),
        first=_choices(survey, by, first, last, ends="first") if few and first is None else (),
        last=_choices(survey, by, first, last, ends="last") if few and last is None else (),
        notes=tuple(_notes(survey, measured, best)),
    )


def _check(survey: Survey, by: Aim, first: str | None, last: str | None) -> None:
    if len(survey.houses) < 2:
        raise UsageError("one house has no order; a route needs two or more")
    for option, house in (("--first", first), ("--last", last)):
        if house is not None and house not in survey.houses:
            raise UsageError(
                f"{option} {house}: not a house of this show, expected one of {', '.join(survey.houses)}"
            )
    if first is not None and first == last:
        raise UsageError(
            f"--first and --last are both {first}: a print leaves from one house and ends in another"
        )
    if not survey.counted(by):
        raise UsageError(
            f"--by {by}: the {by} were not counted on every way; count them, or choose another aim"
        )


def _best(survey: Survey, by: Aim, first: str | None, last: str | None) -> tuple[Order | None, bool]:
    cost, begin, end = survey.costs(by, first, last)
    if len(survey.houses) > MOST_HOUSES:
        solved = solve(cost, begin, end)
        return (None, True) if solved is None else (_named(survey, solved.order), solved.proven)
    path = shortest_path(cost, begin, end)
    return (None if path is None else _named(survey, path.order)), True


def _choices(survey: Survey, by: Aim, first: str | None, last: str | None, ends: str) -> tuple[Order, ...]:
    """The best order for each house that might be at this end, the cheapest first."""
    cost, begin, end = survey.costs(by, first, last)
    if ends == "last":
        paths = shortest_by_last(cost, begin, end)
    else:
        # The same film run backwards: what was first comes last.
        paths = [
            None if p is None else Path(p.order[::-1], p.cost)
            for p in shortest_by_last(np.ascontiguousarray(cost.T), end, begin)
        ]
    possible = sorted((p for p in paths if p is not None), key=lambda p: p.cost)
    return tuple(_named(survey, p.order) for p in possible)


def _named(survey: Survey, order: tuple[int, ...]) -> Order:
    found = order_of(survey, tuple(survey.houses[k] for k in order))
    assert found is not None, "a solver used a way that cannot be made"
    return found


def _notes(survey: Survey, measured: Legs, best: Order | None) -> list[str]:
    notes: list[str] = []
    strangers = sorted({h for way in measured for h in way} - set(survey.houses) - {"feed", "take-up"})
    if strangers:
        notes.append(f"Measured, but not in this show: {', '.join(strangers)}.")
    if survey.unmeasured:
        pairs = ", ".join(f"{a}>{b}" for a, b in survey.unmeasured[:12])
        more = len(survey.unmeasured) - 12
        notes.append(f"Not measured and so not used: {pairs}{f' and {more} more' if more > 0 else ''}.")
    notes += [
        f"House {house} is joined to no other house." for house in survey.houses if _alone(survey, house)
    ]
    for name in ("feed", "take-up"):
        if not survey.platter(name) and any(name in way for way in survey.legs):
            notes.append(
                f"The {name} was not measured to every house, so its film is left out of the choice."
            )
    if best is None:
        notes.append("No order joins all houses: measure more ways, or forbid less.")
    if best is not None and best.crossings:
        words = sorted({word for _, leg in best.ways for word in leg.crosses or ()})
        notes.append(
            f"The film crosses: {', '.join(words)}. Exit routes stay free and unobstructed (29 CFR 1910.37(a)(3), "
            "NFPA 101 7.1.10): film across a doorway or corridor needs the authority's word first."
        )
    return notes


def _alone(survey: Survey, house: str) -> bool:
    """No way to or from it can be made."""
    return not any(
        leg.possible
        for (a, b), leg in survey.legs.items()
        if house in (a, b) and a in survey.houses and b in survey.houses
    )
