"""``[[distance]]``: what was measured between houses that are no neighbours now, for ``longlace route``.

A distance holds both ways, unless the other way has an entry of its own. The show file's links are
measured as well and need no entry; where there is one it takes the link's place.
"""

from __future__ import annotations

from pydantic import Field

from interlock.film import FilmFormat
from interlock.showfile import fields as f
from interlock.showfile.quantities import found, frames_from_mm
from interlock.showfile.section import Section, Source, nearest
from interlock.showfile.show import Distance
from interlock.signals import PLATTERS


class DistanceSection(Section):
    """``[[distance]]``: all film between two gates, if these two houses were neighbours."""

    upstream: f.HouseId = Field(alias="from", description='a house, or "feed"')
    downstream: f.HouseId = Field(alias="to", description='a house, or "take-up"')
    path: f.PositivePathLength | None = Field(None, description='by tape measure, as in "74 ft"')
    rollers: f.Rollers | None = Field(None, description="how many, or a list of their wraps in degrees")
    crosses: list[f.Name] | None = Field(None, description="hazards that the path crosses, in words")
    possible: bool = Field(True, description="false: this link cannot be made")


def resolve_distances(
    source: Source, sections: list[DistanceSection], chain: list[str] | None, film: FilmFormat | None
) -> tuple[Distance, ...]:
    """The distances that could be read; the mistakes of the others are noted."""
    read: list[Distance] = []
    lines: dict[tuple[str, str], int] = {}
    for section in sections:
        if not section.has("upstream", "downstream"):
            continue
        way = (section.upstream, section.downstream)
        place = (*section.place, "to")
        if chain is not None and (why := _why_not(way, chain)):
            source.mistake(place, f'found a distance "{way[0]}" to "{way[1]}", {why}')
        elif way in lines:
            source.mistake(
                place,
                f'found the distance "{way[0]}" to "{way[1]}" a second time; it is on line {lines[way]} already',
            )
        lines.setdefault(way, source.line(section.place))
        if not section.has("path", "rollers", "crosses", "possible"):
            continue
        if section.possible and section.path is None:
            source.mistake(
                (*section.place, "path"), 'is missing; expected a length as in "74 ft", or possible = false'
            )
        elif film is not None:
            read.append(_distance(section, film))
    return tuple(read)


def _distance(section: DistanceSection, film: FilmFormat) -> Distance:
    rollers = section.rollers
    path_fr = None
    if section.possible and section.path is not None:
        path_fr = float(frames_from_mm(section.path, film))
    return Distance(
        upstream=section.upstream,
        downstream=section.downstream,
        path_fr=path_fr,
        rollers=len(rollers) if isinstance(rollers, tuple) else rollers,
        crosses=None if section.crosses is None else tuple(section.crosses),
    )


def _why_not(way: tuple[str, str], chain: list[str]) -> str:
    upstream, downstream = way
    if upstream == downstream:
        return "expected two different houses"
    if upstream == "take-up" or downstream == "feed" or (upstream in PLATTERS and downstream in PLATTERS):
        return 'but film runs from the "feed" to a house, and from a house to the "take-up"'
    for end in way:
        if end not in chain and end not in PLATTERS:
            return f"but no house {found(end)} is in chain{nearest(end, chain)}"
    return ""
