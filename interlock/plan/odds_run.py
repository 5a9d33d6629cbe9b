"""The odds that a whole run holds, by seeded simulation.

How machines drift once they are at speed, as shares of ``fps`` that last all evening:

* *synchronous*: bound to its supply. Machines of one supply run off together, so they do not drift apart; a
  ``speed_tolerance`` above nothing is a fixed offset of that machine alone (worn sprockets, another gear).
* *crystal*: a fixed offset of its own, 1 sigma ``speed_tolerance``; no part of the supply's error.
* *induction*: the supply's error, a fixed slip offset of 1 sigma ``speed_tolerance``, and a slow wander with
  load and warmth around it: a fifth of that, forgetting itself in ten minutes (an assumption, there is no
  source for it).
* *supply*: off by 1 sigma :data:`SUPPLY_SIGMA` for the whole run; different supplies are independent.
  It matters only where machines of different kinds or supplies are neighbours: 0.05 % off uses 48 frames in
  67 minutes.

A link starts with the drift of the start (:mod:`interlock.plan.odds_start`) and is judged until it is
released: once the film's end has cleared its upstream gate, ``first_picture_at_fr + length_fr`` frames of the
upstream machine later. Without wander the drift is a straight line in time, so it stays within limits exactly
if both its ends do, and no time grid is needed. With wander it is looked at every 150 s, straight in between.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from interlock.plan.odds_start import Chain, chain_of
from interlock.showfile.show import Show

Array: TypeAlias = NDArray[np.float64]
Holds: TypeAlias = NDArray[np.bool_]

SUPPLY_SIGMA = 0.0005
"""1-sigma share by which a supply's frequency is off over a run. EN 50160 allows 1 %; large grids keep to a
twentieth of it."""
WANDER_SHARE = 0.2
WANDER_TAU_S = 600.0
WANDER_STEP_S = 150.0
CHUNK = 32768
"""Shows at a time: a few megabytes an array, whatever the number of shows. Part of what a seed means."""


@dataclass(frozen=True, slots=True)
class RunOdds:
    """Shares of the simulated shows; links in film order. Each share p is uncertain by √(p(1−p)/shows), 1
    sigma."""

    start_holds: float
    run_holds: float
    link_start_holds: tuple[float, ...]
    link_run_holds: tuple[float, ...]
    shows: int
    seed: int


def drifts_apart(show: Show) -> bool:
    """Whether any two neighbours can drift apart once they are at speed."""
    return any(
        h.motor != "synchronous" or h.speed_tolerance > 0.0 or h.supply != show.houses[0].supply
        for h in show.houses
    )


def wanders(show: Show) -> bool:
    """Whether any machine's speed changes during the run, so that the drift is no straight line."""
    return any(h.motor == "induction" and h.speed_tolerance > 0.0 for h in show.houses)


def released_after_fr(show: Show) -> tuple[float, ...]:
    """Frames that each link's upstream machine runs from standstill until the film's end has cleared its
    gate."""
    return tuple(at + show.length_fr for at in show.first_picture_at_fr[:-1])


def simulate(show: Show, shows: int, seed: int, progress: Callable[[int], None] | None = None) -> RunOdds:
    """``shows`` evenings. ``progress`` is told how many more are done, after every chunk.

    The same show, number and seed give the same odds on every machine with the same numpy.
    Raises ``ValueError`` for fewer than one show.
    """
    if shows < 1:
        raise ValueError("at least one show must be simulated")
    rng = np.random.default_rng(seed)
    model = _Model(show)
    n_links = len(show.links)
    both_start, both_run = 0, 0
    start, run = np.zeros(n_links, dtype=np.int64), np.zeros(n_links, dtype=np.int64)
    done = 0
    while done < shows:
        n = min(CHUNK, shows - done)
        start_holds, run_holds = model.evenings(rng, n)
        start += np.count_nonzero(start_holds, axis=1)
        both_start += int(np.count_nonzero(start_holds.all(axis=0)))
        if run_holds is start_holds:
            run, both_run = start, both_start
        else:
            run += np.count_nonzero(run_holds, axis=1)
            both_run += int(np.count_nonzero(run_holds.all(axis=0)))
        done += n
        if progress is not None:
            progress(n)
    return RunOdds(
        start_holds=both_start / shows,
        run_holds=both_run / shows,
        link_start_holds=tuple(float(k) / shows for k in start),
        link_run_holds=tuple(float(k) / shows for k in run),
        shows=shows,
        seed=seed,
    )


class _Model:
    """The show as columns: houses or links down, evenings across."""

    def __init__(self, show: Show) -> None:
        chain: Chain = chain_of(show)
        self.fps = show.fps
        self.mean_fr = _column([m.mean_s * show.fps for m in chain.machines])
        self.sd_fr = _column([m.sd_s * show.fps for m in chain.machines])
        self.tight_fr = _column([link.tight_fr for link in show.links])
        self.spill_fr = _column([link.spill_fr for link in show.links])
        self.run_fr = _column(list(released_after_fr(show)))
        self.drifts = drifts_apart(show)
        self.tolerance = _column([h.speed_tolerance for h in show.houses])
        self.supplies = [
            np.array(
                [k for k, h in enumerate(show.houses) if h.motor != "crystal" and h.supply == supply],
                dtype=int,
            )
            for supply in sorted({h.supply for h in show.houses if h.motor != "crystal"})
        ]
        if len(self.supplies) == 1 and len(self.supplies[0]) == len(show.houses):
            self.supplies = []  # all off together is not off at all
        wanderers = [
            k for k, h in enumerate(show.houses) if h.motor == "induction" and h.speed_tolerance > 0.0
        ]
        self.wanderers = np.array(wanderers, dtype=int)
        restless = [k in wanderers or k + 1 in wanderers for k in range(len(show.links))]
        self.restless = np.flatnonzero(np.array(restless, dtype=bool))

    def evenings(self, rng: np.random.Generator, n: int) -> tuple[Holds, Holds]:
        """For each link and each of ``n`` evenings: did it hold at the start, did it hold all evening."""
        late_fr = rng.standard_normal((len(self.mean_fr), n))
        late_fr *= self.sd_fr
        late_fr += self.mean_fr
        start_fr = late_fr[1:] - late_fr[:-1]
        start_holds = self._within(start_fr, slice(None))
        if not self.drifts:
            return start_holds, start_holds
        speed = rng.standard_normal(late_fr.shape)
        speed *= self.tolerance
        for members in self.supplies:
            speed[members] += SUPPLY_SIGMA * rng.standard_normal(n)
        # frames that the upstream machine gains on the downstream one while it runs its run_fr
        gained_fr = speed[:-1] - speed[1:]
        gained_fr /= 1.0 + speed[:-1]
        gained_fr *= self.run_fr
        run_holds = start_holds & self._within(start_fr + gained_fr, slice(None))
        if len(self.wanderers):
            run_holds[self.restless] = start_holds[self.restless]
            self._wander(rng, start_fr, gained_fr, run_holds)
        return start_holds, run_holds

    def _within(self, drift_fr: Array, links: slice | NDArray[np.int_]) -> Holds:
        return (drift_fr >= -self.tight_fr[links]) & (drift_fr <= self.spill_fr[links])

    def _wander(self, rng: np.random.Generator, start_fr: Array, gained_fr: Array, run_holds: Holds) -> None:
        """Follow the links beside wandering machines through the evening; clears ``run_holds`` where one is
        lost."""
        alive = np.flatnonzero(run_holds[self.restless].any(axis=0))
        sd = WANDER_SHARE * self.tolerance[self.wanderers]
        keep = math.exp(-WANDER_STEP_S / WANDER_TAU_S)
        speed = sd * rng.standard_normal((len(self.wanderers), len(alive)))
        run_s = self.run_fr[self.restless] / self.fps
        wandered_fr = np.zeros((len(self.mean_fr), len(alive)))
        before_fr = np.zeros((len(self.restless), len(alive)))
        for step in range(1, math.ceil(float(run_s.max()) / WANDER_STEP_S) + 1):
            fresh = keep * speed + math.sqrt(1.0 - keep * keep) * sd * rng.standard_normal(speed.shape)
            wandered_fr[self.wanderers] += 0.5 * WANDER_STEP_S * self.fps * (speed + fresh)
            speed = fresh
            now_fr = wandered_fr[self.restless] - wandered_fr[self.restless + 1]
            # A link that is released within this step is judged at its release; later ones no more.
            share = np.clip(run_s / WANDER_STEP_S - (step - 1), 0.0, 1.0)
            at_s = np.minimum(step * WANDER_STEP_S, run_s)
            drift_fr = start_fr[np.ix_(self.restless, alive)] + gained_fr[np.ix_(self.restless, alive)] * (
                at_s / run_s
            )
            held = self._within(drift_fr + before_fr + share * (now_fr - before_fr), self.restless)
            held |= share <= 0.0
            run_holds[np.ix_(self.restless, alive)] &= held
            before_fr = now_fr
            left = run_holds[np.ix_(self.restless, alive)].any(axis=0)
            if np.count_nonzero(left) < 0.7 * len(alive):
                alive, speed = alive[left], speed[:, left]
                wandered_fr, before_fr = wandered_fr[:, left], before_fr[:, left]
            if len(alive) == 0:
                break


def _column(values: list[float]) -> Array:
    return np.array(values, dtype=np.float64)[:, None]
