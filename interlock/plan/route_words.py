"""The order of houses in words and columns, for a terminal of eighty columns or a printed page."""

from __future__ import annotations

import textwrap

from interlock.film import FilmFormat
from interlock.plan.route_report import Order, Route
from interlock.plan.route_survey import Aim

_WIDTH = 79
_MOST_CHOICES = 6
_AIMS: dict[Aim, str] = {"film": "least film", "rollers": "fewest rollers", "crossings": "fewest crossings"}


def words(title: str, route: Route) -> str:
    """Everything, as lines without markup."""
    film = route.film
    lines = [f"{title}: the order of houses", ""]
    lines.append(f"{'':<18}{'film':>20}  rollers  crossings")
    if route.best is not None:
        proof = "" if route.proven else " (the best found in the time; a better one may exist)"
        lines += _order(f"best, {_AIMS[route.by]}{proof}", route.best, film)
    if route.own is not None:
        same = " (it is the best already)" if route.own == route.best else ""
        lines += _order(f"the show's own chain{same}", route.own, film)
    for aim, order in route.alternatives:
        if order != route.best:
            lines += _order(_AIMS[aim], order, film)
    if route.best is not None:
        lines += ["", *_ways(route.best, film)]
    for what, orders in (("first", route.first), ("last", route.last)):
        if len(orders) > 1:
            lines += ["", f"With another house {what}, the best would be:"]
            lines += [line for o in orders[:_MOST_CHOICES] for line in _choice(what, o, film)]
            if len(orders) > _MOST_CHOICES:
                lines.append(f"  (and {len(orders) - _MOST_CHOICES} more, all longer; --json has them)")
    for note in route.notes:
        lines += ["", *textwrap.wrap(note, _WIDTH)]
    return "\n".join(lines)


def _order(what: str, order: Order, film: FilmFormat) -> list[str]:
    return [
        what,
        *textwrap.wrap(" > ".join(order.houses), _WIDTH, initial_indent="  ", subsequent_indent="    "),
        f"{'':<18}{_film(order.film_fr, film):>20}  {_count(order.rollers):>7}  {_count(order.crossings):>9}",
    ]


def _ways(order: Order, film: FilmFormat) -> list[str]:
    lines = ["The best order, way by way:"]
    for name, leg in order.ways:
        crosses = "" if not leg.crosses else f"   crosses {', '.join(leg.crosses)}"
        rollers = "" if leg.rollers is None else f"{leg.rollers:>4} rollers"
        lines.append(f"  {name:<16}{_film(leg.film_fr, film):>20}{rollers}{crosses}")
    return lines


def _choice(what: str, order: Order, film: FilmFormat) -> list[str]:
    house = order.houses[0] if what == "first" else order.houses[-1]
    return textwrap.wrap(
        " > ".join(order.houses),
        _WIDTH,
        initial_indent=f"  {house:<9}{_film(order.film_fr, film):>18}   ",
        subsequent_indent=" " * 32,
    )


def _film(frames: float, film: FilmFormat) -> str:
    return f"{film.tape_ft_from_frames(frames):,.0f} ft {frames:,.0f} fr"


def _count(n: int | None) -> str:
    return "?" if n is None else str(n)
