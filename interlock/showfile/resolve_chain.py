"""The houses in film order and the links between them, checked against each other."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from itertools import accumulate, pairwise

from interlock.film import FilmFormat
from interlock.showfile.models import HouseSection, LinkSection, ShowSection
from interlock.showfile.quantities import FilmLength, found, frames_from_mm
from interlock.showfile.resolve_print import Gauge
from interlock.showfile.section import Source, nearest
from interlock.showfile.show import House, Link, Roller
from interlock.showfile.threading import check_details, lifts_of
from interlock.signals import PLATTERS

HOUSES = range(2, 65)
"""How many houses a chain may have: one print through one machine is no interlock."""

SPEED_TOLERANCE = {"synchronous": Fraction(0), "crystal": Fraction("0.00005"), "induction": Fraction("0.005")}


def check_chain(source: Source, show: ShowSection | None, houses: list[HouseSection]) -> list[str] | None:
    """The chain, if it could be read; its mistakes, and those of the houses' ids, are noted."""
    at: dict[str, int] = {}
    for house in houses:
        if not house.has("id"):
            continue
        place = (*house.place, "id")
        if house.id in PLATTERS:
            source.mistake(place, f"found {found(house.id)}, which is a platter's name; expected another")
        elif house.id in at:
            source.mistake(
                place, f"found {found(house.id)}, which the house on line {at[house.id]} has already"
            )
        else:
            at[house.id] = source.line(place)
    if show is None or not show.has("chain"):
        return None
    place = (*show.place, "chain")
    if len(show.chain) not in HOUSES:
        text = f"found {len(show.chain)} houses, expected {HOUSES.start} to {HOUSES.stop - 1}"
        source.mistake(place, text)
    # A house whose id could not be read may be the one that seems to be missing.
    every_id_read = all(house.has("id") for house in houses)
    chain = show.chain[: HOUSES.stop - 1]
    for i, name in enumerate(chain):
        if name in chain[:i]:
            source.mistake((*place, i), f"found {found(name)} a second time; the film passes a house once")
        elif name in PLATTERS:
            source.mistake(
                (*place, i), f"found {found(name)}, expected houses only; the platters need no place here"
            )
        elif name not in at and every_id_read:
            source.mistake(
                (*place, i), f"found {found(name)}, but there is no [[house]] with that id{nearest(name, at)}"
            )
    for house in houses:
        if (
            house.has("id")
            and house.id not in chain
            and len(show.chain) == len(chain)
            and house.id not in PLATTERS
        ):
            source.mistake((*house.place, "id"), f"found {found(house.id)}, which is not in chain")
    return chain


def check_links(source: Source, chain: list[str] | None, links: list[LinkSection]) -> None:
    """Every pair of neighbours has one link, and no other pair has."""
    wanted = [*pairwise(chain), ("feed", chain[0]), (chain[-1], "take-up")] if chain else []
    seen: dict[tuple[str, str], int] = {}
    for link in links:
        _check_limits(source, link)
        if not link.has("upstream", "downstream"):
            continue
        pair = (link.upstream, link.downstream)
        place = (*link.place, "to")
        if pair in seen:
            source.mistake(
                place, f"found the link {_arrow(pair)} a second time; it is on line {seen[pair]} already"
            )
        elif chain and pair not in wanted:
            source.mistake(place, f"found a link {_arrow(pair)}, {_why_not(pair, chain)}")
        seen.setdefault(pair, source.line(link.place))
    # The missing one may be the one that could not be read.
    if chain and all(link.has("upstream", "downstream") for link in links):
        for pair in pairwise(chain):
            if pair not in seen and pair[0] != pair[1]:
                text = f"found no [[link]] {_arrow(pair)}, expected one for each pair of neighbours"
                source.mistake(("show", "chain", chain.index(pair[1])), text)


def _arrow(pair: tuple[str, str]) -> str:
    return f'"{pair[0]}" to "{pair[1]}"'


def _why_not(pair: tuple[str, str], chain: list[str]) -> str:
    upstream, downstream = pair
    if (downstream, upstream) in pairwise(chain):
        return f"but the film runs {_arrow((downstream, upstream))}"
    if upstream == "feed" or downstream == "take-up":
        first, last = chain[0], chain[-1]
        return f'but the film runs from "feed" to "{first}" and from "{last}" to "take-up"'
    for end in pair:
        if end not in chain and end not in PLATTERS:
            return f'but no house "{end}" is in chain{nearest(end, chain)}'
    return "but these two are no neighbours in chain"


def _check_limits(source: Source, link: LinkSection) -> None:
    rollers = _count(link.rollers) if link.has("rollers") else None
    check_details(source, link, rollers, link.path if link.has("path") else None)
    if link.has("path"):
        for i, table in enumerate(link.tables if link.has("tables") else []):
            if table >= link.path:
                source.mistake((*link.place, "tables", i), "found a table beyond the end of the path")
    if not link.has("upstream", "downstream"):
        return
    platter = link.upstream == "feed" or link.downstream == "take-up"
    for name in ("tight", "spill", "wired") if platter else ():
        if link.given(name) and getattr(link, name):
            source.mistake(
                (*link.place, name), "is not for a platter's link, which has no loop that is watched"
            )
    for name in () if platter else ("rollers", "tight", "spill"):
        if link.has(name) and getattr(link, name) is None:
            expected = type(link).model_fields[name].description
            source.mistake((*link.place, name), f"is missing; expected {expected}")


def resolve_house(section: HouseSection, gauge: Gauge, next_show_wall_s: float | None = None) -> House | None:
    """The house in frames and seconds; None if a part of it could not be read."""
    film_sensor = gauge.frames(section, "film_sensor")
    if film_sensor is None or not section.has(*type(section).model_fields):
        return None
    tolerance = section.speed_tolerance
    return House(
        id=section.id,
        name=section.name or f"House {section.id}",
        booth=section.booth or "",
        lit=section.lit,
        motor=section.motor,
        supply=section.supply,
        speed_tolerance=float(SPEED_TOLERANCE[section.motor] if tolerance is None else tolerance),
        start_delay_s=float(section.start_delay),
        start_scatter_s=float(section.start_scatter),
        ramp_s=float(section.ramp),
        ramp_scatter_s=float(section.ramp_scatter),
        coast_s=float(section.coast),
        lamp_lead_s=float(section.lamp_lead),
        dowser_lead_s=float(section.dowser_lead),
        shut_dowser_limit_s=float(section.shut_dowser_limit),
        film_sensor_fr=float(film_sensor),
        threads_from=section.threads_from,
        doors_lead_s=float(section.doors),
        turnaround_s=float(section.turnaround),
        next_show_wall_s=next_show_wall_s,
    )


def resolve_link(section: LinkSection, gauge: Gauge) -> Link | None:
    """The link in frames; None if a part of it could not be read."""

    def limit(name: str) -> float | None:
        if section.has(name) and not isinstance(getattr(section, name), FilmLength):
            return 0.0
        frames = gauge.frames(section, name)
        return None if frames is None else float(frames)

    tight_fr, spill_fr = limit("tight"), limit("spill")
    whole = section.has(*type(section).model_fields)
    if tight_fr is None or spill_fr is None or gauge.film is None or not whole:
        return None
    to_frames = _path_frames(gauge.film)
    lifts = lifts_of(section, gauge.film)
    rise_m = float(section.rise / 1000)
    if lifts:
        rise_m = max(accumulate((lift.by_m for lift in lifts), initial=0.0))
    return Link(
        upstream=section.upstream,
        downstream=section.downstream,
        path_fr=to_frames(section.path),
        path_tolerance=float(section.path_tolerance),
        rollers=_rollers(section, to_frames),
        tight_fr=tight_fr,
        spill_fr=spill_fr,
        rise_m=rise_m,
        crosses=tuple(section.crosses),
        tables_fr=tuple(sorted(to_frames(table) for table in section.tables)),
        wired=section.wired,
        lifts=lifts,
        crosses_at_fr=tuple(to_frames(at) for at in section.crosses_at or ()),
    )


def _path_frames(film: FilmFormat) -> Callable[[Fraction], float]:
    return lambda length_mm: float(frames_from_mm(length_mm, film))


def _rollers(section: LinkSection, to_frames: Callable[[Fraction], float]) -> tuple[Roller, ...]:
    if isinstance(section.rollers, tuple):
        wraps = tuple(math.radians(wrap) for wrap in section.rollers)
    else:
        wraps = (math.radians(section.wrap),) * (section.rollers or 0)
    stuck = set(section.stuck)
    places: list[float | None] = [None] * len(wraps)
    # Another number of places is a mistake that has been noted.
    if section.rollers_at is not None and len(section.rollers_at) == len(wraps):
        places = [to_frames(at) for at in section.rollers_at]
    return tuple(
        Roller(wrap, n in stuck, at) for n, (wrap, at) in enumerate(zip(wraps, places, strict=True), 1)
    )


def _count(rollers: int | tuple[Fraction, ...] | None) -> int:
    return len(rollers) if isinstance(rollers, tuple) else rollers or 0
