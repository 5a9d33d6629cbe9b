"""How long the crew has when one machine stops dead, and where only a wired stop saves the print.

A machine whose motor is cut coasts to standstill within ``coast`` seconds, linear, and still passes
``fps·coast/2`` frames. The other machine of the link goes on at full speed: if the upstream one
stopped the loop is pulled tight, if the downstream one did it spills. So a link with 2 s of slack is used up
in 2 s and a little. To save it by hand somebody must notice, reach the other machine's stop and cut it so
early that its own coasting still fits.

This is advice. It replaces no hard-wired stop and no licensed electrician.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from interlock.showfile.show import Link, Show

REACTION_S = 1.5
"""A person's reaction to a surprise: Green 2000, doi 10.1207/STHF0203_1 (drivers braking, not booths)."""
REACH_S = 1.0
"""From there to the stop, in the dark and by whoever stands nearest: an assumption, there is no source for
it."""


@dataclass(frozen=True, slots=True)
class DeadStop:
    """One machine of a link stops dead, from threaded rest (what the start has used comes off as well).

    ``to_limit_s``: until the limit is reached if nobody does anything. ``to_act_s``: by then the other
    machine's motor must be cut (0: at no time soon enough). ``by_hand``: a surprised person can be that
    quick. ``wired``: the link has a hard-wired stop. ``wire_holds``: with both motors cut at once the limit
    is kept.
    """

    link: str
    stops: str
    other: str
    toward: Literal["tight", "spill"]
    to_limit_s: float
    to_act_s: float
    by_hand: bool
    wired: bool
    wire_holds: bool


def dead_stops(show: Show) -> tuple[DeadStop, ...]:
    """Two for each link in film order: its upstream machine stops dead, then its downstream one."""
    found: list[DeadStop] = []
    for k, link in enumerate(show.links):
        up_coast_s, down_coast_s = show.houses[k].coast_s, show.houses[k + 1].coast_s
        found.append(_dead_stop(link, "tight", link.tight_fr / show.fps, up_coast_s, down_coast_s))
        found.append(_dead_stop(link, "spill", link.spill_fr / show.fps, down_coast_s, up_coast_s))
    return tuple(found)


def _dead_stop(
    link: Link, toward: Literal["tight", "spill"], limit_s: float, coast_s: float, other_coast_s: float
) -> DeadStop:
    stops, other = (link.upstream, link.downstream) if toward == "tight" else (link.downstream, link.upstream)
    # Lost t seconds after the cut: t²/(2·coast) of a second while it coasts, t − coast/2 once it stands.
    to_limit_s = math.sqrt(2.0 * coast_s * limit_s) if limit_s < coast_s / 2.0 else limit_s + coast_s / 2.0
    to_act_s = max(0.0, limit_s + (coast_s - other_coast_s) / 2.0)
    return DeadStop(
        link=link.id,
        stops=stops,
        other=other,
        toward=toward,
        to_limit_s=to_limit_s,
        to_act_s=to_act_s,
        by_hand=to_act_s >= REACTION_S + REACH_S,
        wired=link.wired,
        wire_holds=limit_s + (coast_s - other_coast_s) / 2.0 >= 0.0,
    )


def lacking_wire(stops: tuple[DeadStop, ...]) -> tuple[str, ...]:
    """Links, in film order, that only a wired stop would save, and that have none."""
    return tuple(dict.fromkeys(s.link for s in stops if not s.by_hand and not s.wired))


def advice(stops: tuple[DeadStop, ...]) -> list[str]:
    """What that means, in sentences for people."""
    need_s = REACTION_S + REACH_S
    short = tuple(dict.fromkeys(s.link for s in stops if not s.by_hand))
    said: list[str] = []
    if short:
        said.append(
            f"A dead stop leaves the crew less than the {need_s:.1f} s that a surprised person needs "
            f"({REACTION_S:.1f} s to react, {REACH_S:.1f} s to reach the stop) on {_listed(short)}: "
            "there only a wired stop saves the print."
        )
    lacking = lacking_wire(stops)
    if lacking:
        said.append(f"No wired stop: {_listed(lacking)}.")
    elif short:
        said.append(
            "Every one of them has a wired stop. Try each before the show, with no film in the gates."
        )
    said += [
        f"{s.link}: even with a wired stop {s.other} coasts longer than {s.stops} by more than the loop's "
        f"{s.toward} limit. A brake on {s.other} or a longer loop is the remedy."
        for s in stops
        if not s.wire_holds
    ]
    said.append("This tool watches and advises. It is no safety device and replaces no hard-wired stop.")
    return said


def _listed(links: tuple[str, ...]) -> str:
    return ", ".join(links)
