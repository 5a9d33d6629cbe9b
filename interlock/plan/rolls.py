"""Will it go on the deck: diameter and weight of a roll of film, against what the deck holds.

A spiral of thickness t from d to D is L = π(D² − d²)/(4t) long. 35 mm film weighs 5 lb per 1,000 ft
(municipal code; NFPA 40), other widths in proportion.
"""

from __future__ import annotations

import math

import msgspec

from interlock.plan.threading import Threading
from interlock.plan.threading_ends import tail
from interlock.plan.threading_pull import WIDTH_MM
from interlock.showfile.show import Show

KG_PER_M_35 = 5.0 * 0.45359237 / 304.8


def spiral_length(outer_m: float, core_m: float, thickness_m: float) -> float:
    """Metres of film on a roll of diameter ``outer_m`` on a core of ``core_m``."""
    return math.pi * (outer_m**2 - core_m**2) / (4.0 * thickness_m)


def spiral_diameter(length_m: float, core_m: float, thickness_m: float) -> float:
    """Metres of diameter of a roll of ``length_m`` metres: the inverse of :func:`spiral_length`."""
    return math.sqrt(core_m**2 + 4.0 * thickness_m * length_m / math.pi)


class Roll(msgspec.Struct, frozen=True):
    """One roll. ``fits`` and ``bears``: None where the deck's limit is not known."""

    what: str
    length_m: float
    diameter_m: float
    weight_kg: float
    fits: bool | None
    bears: bool | None


def roll(show: Show, what: str, frames: float) -> Roll:
    """A roll of ``frames`` frames of film on the show's deck."""
    deck = show.deck
    length_m = show.film.metres_from_frames(frames)
    diameter_m = spiral_diameter(length_m, deck.core_m, deck.thickness_m)
    weight_kg = length_m * KG_PER_M_35 * WIDTH_MM[show.film_key] / 35.0
    return Roll(
        what,
        length_m,
        diameter_m,
        weight_kg,
        None if deck.diameter_m is None else diameter_m <= deck.diameter_m,
        None if deck.weight_kg is None else weight_kg <= deck.weight_kg,
    )


def rolls(show: Show, threading: Threading) -> tuple[Roll, Roll]:
    """The feed roll before the start, and the take-up roll at the end; a tail that lacks is counted as added.

    Before the start the leader lies in the path already, but what of it is ahead of the first gate.
    """
    feed_fr = show.feed.path_fr if show.feed is not None else 0.0
    print_fr = show.length_fr + tail(show).short_fr
    ahead_fr = show.first_picture_fr + (threading.leader_fr - feed_fr)
    return (
        roll(show, "feed", print_fr + max(0.0, show.first_picture_fr - feed_fr)),
        roll(show, "take-up", print_fr + ahead_fr),
    )


def roll_notes(show: Show, threading: Threading) -> list[str]:
    """What of it does not go on the deck, in sentences."""
    deck = show.deck
    said: list[str] = []
    for r in rolls(show, threading):
        if r.fits is False and deck.diameter_m is not None:
            more_m = r.length_m - spiral_length(deck.diameter_m, deck.core_m, deck.thickness_m)
            said.append(
                f"The {r.what} roll does not go on the deck: {r.diameter_m / 0.0254:.1f} in across, the deck holds "
                f"{deck.diameter_m / 0.0254:.1f} in. {more_m / 0.3048:,.0f} ft are too many: split the print, or "
                "take a larger deck."
            )
        if r.bears is False and deck.weight_kg is not None:
            said.append(
                f"The {r.what} roll is too heavy for the deck: {r.weight_kg / 0.45359237:.0f} lb, it bears "
                f"{deck.weight_kg / 0.45359237:.0f} lb."
            )
    return said
