"""What the adapters told the desk in one run, and when they were silent.

Contacts are taken from the readings by the rules of contract.md (what is older than the newest is not applied; with its
adapter silent for 750 ms, or gone, nothing is known), without a look at how the desk does it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from operator import sub
from typing import NamedTuple

from interlock.signals import Contacts, Presence, Reading
from tests.campaign.drive import BEGIN_S, Run

STALE_S = 0.75
"""No word for so long: stale (contract.md)."""
SETTLES_S = 0.05
"""A fact may be so much older than the newest, and is not yet out of date (an adapter debounces)."""


class Told(NamedTuple):
    """One line with the contacts of an adapter, in which something was new. No values: from here on nothing is known."""

    at_s: float
    fact_s: float
    values: Sequence[tuple[str, bool]] | None


class Words:
    """Of one run. Everything is plan time.

    ``told``: adapter → what was new. ``silences``: adapter → [stale from, a word again at, last word before]. ``until_s``: the
    end of the run.
    """

    def __init__(self, run: Run) -> None:
        self._inputs = run.inputs
        self.silences: dict[str, list[list[float]]] = {a.name: [] for a in run.show.adapters}
        self.told: dict[str, list[Told]] = {a.name: [] for a in run.show.adapters}
        self._listen()

    def _listen(self) -> None:
        inputs = self._inputs
        self.until_s = max(x.at_s for x in inputs[-100:]) + BEGIN_S
        # Contacts come so often that nearly always they alone show that there was no silence.
        contacts: dict[str, list[Contacts]] = {name: [] for name in self.told}
        gone: set[str] = set()
        for x in inputs:
            kind = type(x)
            if kind is Contacts:
                contacts[x.adapter].append(x)  # type: ignore[union-attr, arg-type]
            elif kind is Presence and x.state == "gone":  # type: ignore[union-attr]
                gone.add(x.adapter)  # type: ignore[union-attr]
        for name, mine in contacts.items():
            if name in gone or not self._never_silent(name, mine):
                self._fold(name, [x for x in inputs if isinstance(x, Reading) and x.adapter == name])

    def _never_silent(self, name: str, contacts: Sequence[Contacts]) -> bool:
        """Whether nothing was late, missing or out of order; then what was told is soon found."""
        times = [0.0, *[x.at_s for x in contacts], self.until_s - BEGIN_S]
        facts = [x.fact_s for x in contacts]
        if max(map(sub, times[1:], times)) > STALE_S or times != sorted(times) or facts != sorted(facts):
            return False
        news = [
            *contacts[:1],
            *[x for w, x in pairwise(contacts) if x.values is not w.values and x.values != w.values],
        ]
        self.told[name] = [Told(x.at_s + BEGIN_S, x.fact_s + BEGIN_S, x.values) for x in news]
        return True

    def _fold(self, name: str, words: Sequence[Reading]) -> None:
        newest = changed = -math.inf
        values: object = None
        last_s = t_s = 0.0
        silent = False
        for x in words:
            t_s = max(t_s, x.at_s)
            gone = type(x) is Presence and x.state == "gone"
            if t_s - last_s > STALE_S or gone or silent:
                silent = self._silence(name, last_s, t_s, silent, gone=gone)
                values = None
            if gone:
                continue
            last_s = t_s
            if type(x) is not Contacts:
                continue
            newest = max(newest, x.fact_s)
            if x.values != values and x.fact_s >= max(changed, newest - SETTLES_S):
                values, changed = x.values, x.fact_s
                self.told[name].append(Told(t_s + BEGIN_S, x.fact_s + BEGIN_S, x.values))
        if not silent and self.until_s - BEGIN_S - last_s > STALE_S:
            self._silence(name, last_s, last_s + STALE_S, silent, gone=True)

    def _silence(self, name: str, last_s: float, t_s: float, silent: bool, *, gone: bool) -> bool:
        """The silence of this adapter begins, ends, or both. Returns whether it lasts."""
        if not silent:
            from_s = min(last_s + STALE_S, t_s)
            self.silences[name].append([from_s + BEGIN_S, math.inf, last_s + BEGIN_S])
            self.told[name].append(Told(from_s + BEGIN_S, math.nan, None))
        if not gone:
            self.silences[name][-1][1] = t_s + BEGIN_S
        return gone
