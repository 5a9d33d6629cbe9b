"""The pull at the head of a leader: what every roller, lift and machine on the way makes of it.

Each :class:`Step` turns the pull T before it into ``gain``·T + ``adds_n``. A turning roller of radius R on
a pin of diameter d, wrapped by θ, multiplies by (1+k)/(1−k) with k = μ·(d/2)/R·sin(θ/2): bearing moment
μ·P·d/2 with P = 2T·sin(θ/2). It adds a drag of its own. One that does not turn multiplies by e^(μθ) and adds
nothing. A lift adds the film's weight; a descent gives nothing back, because film that slides down a
far wall is not what a hand pulls by. So the pull never falls along a stretch. Pure; newtons and metres.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal

import msgspec

from interlock.film import FilmFormat
from interlock.showfile.settings import Lift, ThreadingSettings
from interlock.showfile.show import Link, Roller, Show

WEIGHT_35_NPM = 0.073
"""Newtons a metre of 35 mm film: 5 lb per 1,000 ft (municipal code; NFPA 40)."""

WIDTH_MM = {"35mm-4p": 35.0, "35mm-3p": 35.0, "35mm-2p": 35.0, "16mm": 16.0, "65mm-5p": 70.0, "super8": 8.0}
"""Film is as heavy as it is wide: the base is alike. A 65 mm negative's print is 70 mm wide."""


def weight_npm(film: FilmFormat) -> float:
    """Newtons a metre of film."""
    return WEIGHT_35_NPM * WIDTH_MM[film.key] / 35.0


def turning_gain(friction: float, pin_m: float, roller_m: float, wrap_rad: float) -> float:
    """By how much a turning roller multiplies the pull. ``pin_m`` and ``roller_m`` are diameters.

    Raises ``ValueError`` where the pin's friction would hold the roller against any pull.
    """
    k = friction * pin_m / roller_m * math.sin(wrap_rad / 2.0)
    if k >= 1.0:
        raise ValueError("such a roller turns at no pull")
    return (1.0 + k) / (1.0 - k)


def stuck_gain(friction: float, wrap_rad: float) -> float:
    """By how much film dragged over a roller that stands multiplies the pull (belt friction)."""
    return math.exp(friction * wrap_rad)


class Step(msgspec.Struct, frozen=True):
    """What the film meets at ``at_fr`` frames along ``link``: T becomes ``gain``·T + ``adds_n``.

    ``number`` counts the rollers of a link from 1; for a machine ``link`` is its house.
    """

    kind: Literal["roller", "lift", "machine"]
    link: str
    at_fr: float
    gain: float = 1.0
    adds_n: float = 0.0
    number: int = 0
    stuck: bool = False
    wrap_rad: float = 0.0
    by_m: float = 0.0

    def pull_n(self, before_n: float) -> float:
        """The pull behind it."""
        return self.gain * before_n + self.adds_n


def pull_along(steps: Iterable[Step], start_n: float) -> list[float]:
    """The pull behind each step, from ``start_n`` at the tail; it never falls."""
    pulls: list[float] = []
    pull_n = start_n
    for step in steps:
        pull_n = step.pull_n(pull_n)
        pulls.append(pull_n)
    return pulls


def end_pull(steps: Iterable[Step], start_n: float) -> float:
    """The pull at the head once it has passed all ``steps``."""
    pulls = pull_along(steps, start_n)
    return pulls[-1] if pulls else start_n


def roller_places(link: Link) -> list[float]:
    """Frames from the upstream gate to each roller; evenly spaced where they were not surveyed."""
    gap_fr = link.path_fr / (len(link.rollers) + 1)
    return [gap_fr * n if r.at_fr is None else r.at_fr for n, r in enumerate(link.rollers, 1)]


def lifts(link: Link) -> tuple[Lift, ...]:
    """The link's lifts; of one that only knows its rise: up at the upstream gate, down at the other.

    Up at once is the worst place for it, because every roller behind multiplies the weight.
    """
    if link.lifts or link.rise_m == 0.0:
        return link.lifts
    return (Lift(0.0, link.rise_m), Lift(link.path_fr, -link.rise_m))


def link_steps(link: Link, settings: ThreadingSettings, weight: float) -> list[Step]:
    """The rollers and lifts of ``link`` in film order. ``weight``: newtons a metre of film."""
    steps = [
        Step("lift", link.id, lift.at_fr, adds_n=max(0.0, lift.by_m) * weight, by_m=lift.by_m)
        for lift in lifts(link)
    ]
    for n, (roller, at_fr) in enumerate(zip(link.rollers, roller_places(link), strict=True), 1):
        steps.append(_roller_step(link.id, n, roller, at_fr, settings))
    return sorted(steps, key=lambda step: (step.at_fr, step.kind == "roller", step.number))


def _roller_step(link: str, n: int, roller: Roller, at_fr: float, s: ThreadingSettings) -> Step:
    wrap = roller.wrap_rad
    if roller.stuck:
        gain, adds_n = stuck_gain(s.stuck_friction, wrap), 0.0
    else:
        gain, adds_n = turning_gain(s.friction, s.pin_m, s.roller_m, wrap), s.roller_drag_n
    return Step("roller", link, at_fr, gain, adds_n, n, stuck=roller.stuck, wrap_rad=wrap)


def machine_step(house: str, settings: ThreadingSettings) -> Step:
    """A leader drawn past an open machine that is laced later."""
    return Step("machine", house, 0.0, adds_n=settings.machine_drag_n)


class Running(msgspec.Struct, frozen=True):
    """What the sprocket (or the platter) at the downstream end of a link pulls while the film runs."""

    link: str
    pull_n: float


def running_pulls(show: Show) -> list[Running]:
    """The running pull at the downstream end of every link, feed and take-up included, in film order.

    Each begins anew with ``hold_back``, the pull of a loop or an arm: the sprocket behind a gate feeds the
    film out and passes no pull on.
    """
    weight = weight_npm(show.film)
    return [
        Running(link.id, end_pull(link_steps(link, show.threading, weight), show.threading.hold_back_n))
        for link in all_links(show)
    ]


def all_links(show: Show) -> list[Link]:
    """Feed, the links between houses, take-up: those that there are, in film order."""
    return [link for link in (show.feed, *show.links, show.take_up) if link is not None]
