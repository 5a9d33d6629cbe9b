"""How the path is threaded: stretches, joins, leader, pulls, time. The arithmetic is docs/plan-threading.md's."""

from __future__ import annotations

import math

import msgspec

from interlock.plan.threading_limit import pull_limit
from interlock.plan.threading_pull import Running, all_links, pull_along, running_pulls
from interlock.plan.threading_remedy import remedy
from interlock.plan.threading_stations import Station, walk
from interlock.plan.threading_stretches import Path, fewest_stretches
from interlock.showfile.show import Show


class Stretch(msgspec.Struct, frozen=True):
    """One stretch of leader. ``number``: the order in which they are threaded, 1 at the far end.

    ``film_fr`` along the path, ``leader_fr`` with the allowance; ``pull_n`` at its head when it arrives;
    ``hardest``: (link, roller) where the limit is passed, None where it is kept.
    """

    number: int
    begin: Station
    end: Station
    film_fr: float
    leader_fr: float
    rollers: int
    pull_n: float
    time_s: float
    hardest: tuple[str, int] | None = None
    remedy: str = ""

    @property
    def can_be_done(self) -> bool:
        """True if the pull keeps under the limits."""
        return not self.remedy


class Threading(msgspec.Struct, frozen=True):
    """The whole plan of threading. ``stretches`` in the order in which they are threaded: far end first."""

    stretches: tuple[Stretch, ...]
    path_fr: float
    leader_fr: float
    rollers: int
    limit_n: float
    limit_of: str
    running: tuple[Running, ...]
    time_s: float

    @property
    def joins(self) -> tuple[Station, ...]:
        """Where stretches are joined, in the order in which that is done."""
        return tuple(stretch.begin for stretch in self.stretches[:-1])


def plan_threading(show: Show) -> Threading:
    """The fewest stretches, the far end first, and all that goes with them."""
    settings, film = show.threading, show.film
    limit_n, limit_of = pull_limit(settings)
    stations, path = walk(show)
    allowance_fr = film.frames_from_metres(settings.allowance_m)
    stretches: list[Stretch] = []
    for number, (a, b) in enumerate(reversed(fewest_stretches(path, limit_n)), 1):
        begin, end = stations[a], stations[b]
        film_fr = end.at_fr - begin.at_fr
        rollers = sum(step.kind == "roller" for step in path.steps(a, b))
        pull_n = path.pull_n(a, b)
        over = pull_n > limit_n
        walk_s = film.metres_from_frames(film_fr) / settings.pace_mps
        # Alone, one walks back to the tail to pay out more as often as one has gone forward.
        walk_s *= 2.0 if settings.crew == 1 else 1.0
        stretches.append(
            Stretch(
                number,
                begin,
                end,
                film_fr,
                film_fr + allowance_fr,
                rollers,
                pull_n,
                walk_s + rollers * settings.roller_s,
                _hardest(path, a, b, limit_n),
                remedy(show, path.steps(a, b), limit_n, limit_of) if over else "",
            )
        )
    return Threading(
        stretches=tuple(stretches),
        path_fr=stations[-1].at_fr,
        leader_fr=sum(stretch.leader_fr for stretch in stretches),
        rollers=sum(len(link.rollers) for link in all_links(show)),
        limit_n=limit_n,
        limit_of=limit_of,
        running=tuple(running_pulls(show)),
        time_s=_time_s(show, stretches),
    )


def _hardest(path: Path, a: int, b: int, limit_n: float) -> tuple[str, int] | None:
    """The link and roller (0: not a roller) at which the limit is passed first."""
    steps = path.steps(a, b)
    for step, pull_n in zip(steps, pull_along(steps, path.start_n), strict=True):
        if pull_n > limit_n:
            return step.link, step.number
    return None


def _time_s(show: Show, stretches: list[Stretch]) -> float:
    """Stretches and joins by teams of two side by side, each team taking the next; then all lace machines."""
    settings = show.threading
    free_s = [0.0] * min(max(1, settings.crew // 2), len(stretches))
    for stretch in stretches:
        team = free_s.index(min(free_s))
        free_s[team] += stretch.time_s + (settings.join_s if stretch.number > 1 else 0.0)
    return max(free_s) + math.ceil(len(show.houses) / settings.crew) * settings.machine_s
