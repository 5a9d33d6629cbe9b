"""Where a leader can begin and end, and what lies between: the show's path as stations and steps."""

from __future__ import annotations

from typing import Literal

import msgspec

from interlock.plan.threading_pull import Step, all_links, link_steps, machine_step, weight_npm
from interlock.plan.threading_stretches import Path
from interlock.showfile.show import Show


class Station(msgspec.Struct, frozen=True):
    """A place at which a person can begin, end and join a leader.

    ``at_fr``: frames of path from the beginning of all; ``name``: in words; ``link`` and ``link_at_fr``:
    of a table, the link that it stands on and how far along.
    """

    kind: Literal["deck", "house", "table"]
    id: str
    name: str
    at_fr: float
    link: str = ""
    link_at_fr: float = 0.0


def walk(show: Show) -> tuple[list[Station], Path]:
    """The stations in film order, and the path between them."""
    settings, film = show.threading, show.film
    weight = weight_npm(film)
    houses = {house.id: house for house in show.houses}
    links = all_links(show)
    first, last = links[0].upstream, links[-1].downstream

    def station(name: str, at_fr: float) -> Station:
        if name in houses:
            return Station("house", name, houses[name].name, at_fr)
        return Station("deck", name, f"the {name} platter", at_fr)

    stations = [station(first, 0.0)]
    gaps: list[tuple[Step, ...]] = []
    passing: list[tuple[Step, ...]] = [()]
    gap: list[Step] = []
    at_fr = 0.0
    for link in links:
        steps = link_steps(link, settings, weight)
        done = 0
        for table_fr in link.tables_fr:
            while done < len(steps) and steps[done].at_fr <= table_fr:
                gap.append(steps[done])
                done += 1
            feet = film.tape_ft_from_frames(table_fr)
            name = f"the table {feet:.0f} ft along {link.id}"
            stations.append(Station("table", name, name, at_fr + table_fr, link.id, table_fr))
            gaps.append(tuple(gap))
            passing.append(())
            gap = []
        gap += steps[done:]
        at_fr += link.path_fr
        machine = (machine_step(link.downstream, settings),) if link.downstream in houses else ()
        if link.downstream == last or houses[link.downstream].threads_from:
            # The last one is an end whatever stands there: the film has to get to it.
            stations.append(station(link.downstream, at_fr))
            gaps.append(tuple(gap))
            passing.append(machine)
            gap = []
        else:
            gap += machine
    return stations, Path(tuple(gaps), tuple(passing), settings.hold_back_n)
