"""Everything that ``longlace odds`` says, reckoned once; as JSON (contract.md) and in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Literal

from interlock.plan.odds_help import Help, helps
from interlock.plan.odds_run import SUPPLY_SIGMA, drifts_apart, simulate, wanders
from interlock.plan.odds_start import chain_of, scatter_for
from interlock.plan.odds_stop import DeadStop, advice, dead_stops, lacking_wire
from interlock.showfile.show import Show

TARGETS = (0.99, 0.999)
DEFAULT_SHOWS = 1_000_000
DEFAULT_SHOWS_WANDERING = 100_000
"""Machines that wander are followed through the evening, step by step: each show costs fifty times as
much."""
DEFAULT_SEED = 0


@dataclass(frozen=True, slots=True)
class LinkOdds:
    """One link alone, whatever the others do."""

    link: str
    start_holds: float
    run_holds: float


@dataclass(frozen=True, slots=True)
class OddsReport:
    """The odds of one show. ``shows`` and ``seed`` are None where nothing was simulated.

    ``start_exact``: ``start_holds`` (and the links') come from the chain recursion and not from simulated
    shows.
    """

    start_holds: float
    run_holds: float
    method: Literal["exact", "simulated"]
    start_exact: bool
    shows: int | None
    seed: int | None
    links: tuple[LinkOdds, ...]
    weakest: str | None
    scatter_for: dict[str, float | None]
    helps: tuple[Help, ...]
    dead_stops: tuple[DeadStop, ...]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """The contract's document, and more: ``helps``, ``dead_stops``, ``lack_wired_stop``, ``notes``. Plain
        values only."""
        return {
            "start_holds": self.start_holds,
            "run_holds": self.run_holds,
            "method": self.method,
            "shows": self.shows,
            "seed": self.seed,
            "links": [asdict(link) for link in self.links],
            "weakest": self.weakest,
            "scatter_for": self.scatter_for,
            "start_method": "exact" if self.start_exact else "simulated",
            "helps": [asdict(h) for h in self.helps],
            "dead_stops": [asdict(s) for s in self.dead_stops],
            "lack_wired_stop": list(lacking_wire(self.dead_stops)),
            "notes": list(self.notes),
        }


def shows_needed(show: Show, shows: int | None) -> int | None:
    """How many shows :func:`report` will simulate; None if it can do without."""
    if shows is not None:
        return shows
    if not drifts_apart(show):
        return None
    return DEFAULT_SHOWS_WANDERING if wanders(show) else DEFAULT_SHOWS


def report(
    show: Show,
    shows: int | None = None,
    seed: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> OddsReport:
    """Reckon everything.

    Without ``shows`` the start is exact, and so is the run where no two machines can drift apart (then it is
    the start's); where they can, the run is simulated with a number of shows that suffices. With ``shows``
    both come from that many simulated shows. ``progress``: as in :func:`interlock.plan.odds_run.simulate`.
    """
    chain = chain_of(show)
    count = shows_needed(show, shows)
    used_seed = None if count is None else DEFAULT_SEED if seed is None else seed
    start, each_start = chain.holds(), [chain.link_holds(k) for k in range(len(show.links))]
    run, each_run = start, each_start
    if count is not None and used_seed is not None:
        odds = simulate(show, count, used_seed, progress)
        run, each_run = odds.run_holds, list(odds.link_run_holds)
        if shows is not None:
            start, each_start = odds.start_holds, list(odds.link_start_holds)
        else:
            # The start is known exactly: only what it leaves of the run is taken from the simulated shows. So
            # the run is never likelier than the start, and the luck of the simulated starts cancels.
            each_run = [
                _of_start(s, n, m)
                for s, n, m in zip(each_start, odds.link_run_holds, odds.link_start_holds, strict=True)
            ]
            run = min([_of_start(start, odds.run_holds, odds.start_holds), *each_run])
    links = tuple(
        LinkOdds(link.id, s, r) for link, s, r in zip(show.links, each_start, each_run, strict=True)
    )
    return OddsReport(
        start_holds=start,
        run_holds=run,
        method="exact" if count is None else "simulated",
        start_exact=shows is None,
        shows=count,
        seed=used_seed,
        links=links,
        weakest=min(links, key=lambda o: (o.run_holds, o.start_holds)).link if links else None,
        scatter_for={str(p): scatter_for(chain, p) for p in TARGETS},
        helps=helps(show),
        dead_stops=dead_stops(show),
        notes=tuple(
            [*_model_notes(show), *advice(dead_stops(show))] if links else ["One house: no link, no odds."]
        ),
    )


def _of_start(start: float, simulated_run: float, simulated_start: float) -> float:
    """Exact odds of the start times the share of the simulated starts that held which held all evening."""
    return start * simulated_run / simulated_start if simulated_start > 0.0 else 0.0


def _model_notes(show: Show) -> list[str]:
    notes: list[str] = []
    kinds = {h.motor for h in show.houses}
    supplies = {h.supply for h in show.houses if h.motor != "crystal"}
    if not drifts_apart(show):
        notes.append("All machines are synchronous on one supply: once at speed they do not drift apart.")
    if supplies and ("crystal" in kinds or len(supplies) > 1):
        between = (
            "crystal machines beside machines on a supply"
            if "crystal" in kinds
            else "machines on different supplies"
        )
        notes.append(
            f"There are {between}: a supply is taken to be off by {100 * SUPPLY_SIGMA:.2f} % (1 sigma) "
            "for the whole run; 0.05 % uses 48 frames in 67 minutes."
        )
    if "induction" in kinds:
        notes.append("Induction machines slip with load and warmth: without counters nobody sees them part.")
    return notes
