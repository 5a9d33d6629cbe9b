"""What could hurt somebody, where on the path, and what is said of it. Nothing switches these off.

The words and their sources are reference.md's: each defers to local codes and licensed practice.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from interlock.plan.threading_pull import all_links
from interlock.showfile.show import Link, Show

DEFERS = "Local codes and licensed practice decide; this sheet only repeats what they commonly ask."
EXITS = (
    "Exit routes stay free and unobstructed (29 CFR 1910.37(a)(3), NFPA 101 7.1.10). Film across a doorway, a "
    "corridor or a stair needs the authority's word first."
)
HEIGHTS = (
    "Rollers out of reach of the floor: edge protection from 4 ft (29 CFR 1910.28(b)(1)(i)); one hand holds the "
    "ladder (1910.23(b)(12)), so the film waits for a second person."
)
NIP_POINTS = (
    "Guard nip points and rotating parts (29 CFR 1910.212(a)(1)). Nobody threads a machine that can start."
)
LAMPS = (
    "Xenon lamps, cold or hot, may shatter; ultraviolet, igniters of tens of kilovolts, ozone: eye, face and body "
    "protection (29 CFR 1910.133), let them cool 10 minutes. Strike with the dowser shut."
)
GATE = (
    "A frame held in an open gate is destroyed within seconds: film stands still, dowser shut. Nitrate film "
    "(NFPA 40) never in an interlock."
)
WATCHES = "The program watches. It is no safety device and replaces no hard-wired stop."


class Hazard(msgspec.Struct, frozen=True):
    """One place on a link. ``at_fr``: frames from its upstream gate, None where it was not surveyed."""

    kind: Literal["crossing", "height"]
    link: str
    what: str
    at_fr: float | None = None


def hazards_of(show: Show, link: Link) -> list[Hazard]:
    """The hazards of one link, along the film where their places are known."""
    places: list[float | None] = list(link.crosses_at_fr) or [None] * len(link.crosses)
    found = [Hazard("crossing", link.id, what, at) for what, at in zip(link.crosses, places, strict=True)]
    settings = show.threading
    height_m = settings.gate_height_m + link.rise_m
    if height_m > settings.reach_m and link.rise_m > 0.0:
        what = f"{height_m / 0.3048:.0f} ft high, out of reach"
        found.append(Hazard("height", link.id, what))
    return sorted(found, key=lambda h: -1.0 if h.at_fr is None else h.at_fr)


def hazards(show: Show) -> list[Hazard]:
    """All of them, in film order."""
    return [hazard for link in all_links(show) for hazard in hazards_of(show, link)]


def threading_cautions(show: Show) -> list[str]:
    """What the threading sheet says: always of nip points, of exits and heights where the path meets them."""
    found = hazards(show)
    said = []
    for kind, words in (("crossing", EXITS), ("height", HEIGHTS)):
        links = dict.fromkeys(hazard.link for hazard in found if hazard.kind == kind)
        if links:
            said.append(f"{words} Here: {', '.join(links)}.")
    return [*said, NIP_POINTS, WATCHES, DEFERS]


def running_cautions() -> list[str]:
    """What the start card and the cue sheets say, always."""
    return [LAMPS, GATE, NIP_POINTS, WATCHES, DEFERS]
