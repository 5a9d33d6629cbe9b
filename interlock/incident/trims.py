"""What the recorded starts say of every house's start timer, pooled over shows, and what to dial in."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from interlock.errors import UsageError
from interlock.incident.starts import Start
from interlock.incident.trims_clock import from_mean, shifts, unmixed
from interlock.incident.trims_math import Estimate, estimate, outliers, starts_needed
from interlock.plan.odds_start import chain_of
from interlock.showfile.show import Show

WITHIN_S = 0.1
"""The delay is to be known so well before a correction is worth dialing in."""
LEAST = 5
"""With fewer starts the scatter's interval is wider than the scatter itself."""


class Odd(msgspec.Struct, frozen=True):
    """A start that does not belong to the others of its house."""

    record: str
    house: str
    delay_s: float


class HouseTrim(msgspec.Struct, frozen=True):
    """One house. ``delay``: seconds from motor_start to the motor turning, outliers left out; ``with_outliers``: all of them.

    ``correction_s``: what to add to its timer (later is positive) so that all houses are level; None with one start
    only. ``worth_it``: it is further from nothing than its interval reaches. ``more_starts``: how many are lacking.
    """

    house: str
    file_delay_s: float
    file_scatter_s: float
    delay: Estimate | None
    with_outliers: Estimate | None
    by: tuple[str, ...]
    missing: int
    correction_s: float | None
    correction_half_s: float | None
    worth_it: bool
    more_starts: int


class Trims(msgspec.Struct, frozen=True):
    """``rehearsed``: those of the records that are of simulated machines. ``odds_``: that the start holds: by the show
    file, as measured, with the scatter at the upper end of its interval, and with the corrections dialed in; None
    where a house has no scatter yet."""

    title: str
    records: tuple[str, ...]
    relative: bool
    within_s: float
    confidence: float
    houses: tuple[HouseTrim, ...]
    outliers: tuple[Odd, ...]
    shifted: tuple[tuple[str, float], ...]
    odds_file: float
    odds_measured: float | None
    odds_cautious: float | None
    odds_corrected: float | None
    notes: tuple[str, ...]
    rehearsed: tuple[str, ...] = ()


def trims(
    starts: Sequence[Start], *, within_s: float = WITHIN_S, confidence: float = 0.95, relative: bool = False
) -> Trims:
    """Pool the starts of one chain of houses (``UsageError`` if they are of different ones).

    ``relative``: take each show's mean out first, so that the computer's clock has no part in it; the delays are then
    from the mean of all houses, and the scatters are solved for from what is left.
    """
    starts, twice = _once(starts)
    show = _same_chain(starts)
    shifted = shifts(starts)
    pooled = [from_mean(s) for s in starts] if relative else [s.delay_s for s in starts]
    rows: dict[str, list[tuple[str, float]]] = {
        h.id: [(s.record, d[h.id]) for s, d in zip(starts, pooled, strict=True) if h.id in d]
        for h in show.houses
    }
    odd = {h: outliers([v for _, v in row]) for h, row in rows.items()}
    kept = {h: [v for i, (_, v) in enumerate(row) if i not in odd[h]] for h, row in rows.items()}
    delays = {h: estimate(v, confidence) for h, v in kept.items() if v}
    if relative:
        delays = unmixed(delays)
    level = _level(show, delays)
    houses = tuple(
        _house(show, k, rows, odd, delays, level, starts, within_s, confidence)
        for k in range(len(show.houses))
    )
    measured = _with(show, houses, "scatter", corrected=False)
    return Trims(
        title=show.title,
        records=tuple(s.record for s in starts),
        relative=relative,
        within_s=within_s,
        confidence=confidence,
        houses=houses,
        outliers=tuple(Odd(rows[h][i][0], h, rows[h][i][1]) for h, places in odd.items() for i in places),
        shifted=tuple(shifted),
        odds_file=chain_of(show).holds(),
        odds_measured=_odds(measured),
        odds_cautious=_odds(_with(show, houses, "scatter_high", corrected=False)),
        odds_corrected=_odds(_with(show, houses, "scatter", corrected=True)),
        notes=(*_rehearsed(starts), *twice, *_notes(starts, shifted, relative)),
        rehearsed=tuple(s.record for s in starts if s.rehearsal),
    )


def _once(starts: Sequence[Start]) -> tuple[list[Start], list[str]]:
    """One start given twice (a copy, or a rehearsal with the same seed) would make the scatter look smaller than it is."""
    kept: list[Start] = []
    notes: list[str] = []
    for s in starts:
        same = next((x for x in kept if x.delay_s == s.delay_s), None)
        if same is None:
            kept.append(s)
        else:
            notes.append(
                f"{s.record} holds the very start of {same.record}, to the last digit: it was counted once."
            )
    return kept, notes


def _same_chain(starts: Sequence[Start]) -> Show:
    if not starts:
        raise UsageError("none of these records holds a start: no motor turned after the desk was armed")
    show = starts[-1].show
    chain = [h.id for h in show.houses]
    for s in starts:
        if [h.id for h in s.show.houses] != chain:
            raise UsageError(
                f"{s.record} is of the houses {' '.join(h.id for h in s.show.houses)} and {starts[-1].record} of "
                f"{' '.join(chain)}: give records of one chain of houses only"
            )
    return show


def _level(show: Show, delays: dict[str, Estimate]) -> float:
    """The lateness that the corrections bring every house to: the mean of all, so that most timers move least."""
    late = [delays[h.id].mean + h.ramp_s / 2.0 for h in show.houses if h.id in delays]
    return math.fsum(late) / len(late) if late else 0.0


def _house(
    show: Show,
    k: int,
    rows: dict[str, list[tuple[str, float]]],
    odd: dict[str, list[int]],
    delays: dict[str, Estimate],
    level: float,
    starts: Sequence[Start],
    within_s: float,
    confidence: float,
) -> HouseTrim:
    h = show.houses[k]
    e = delays.get(h.id)
    half = None if e is None or e.high is None else e.high - e.mean
    correction = None if e is None or half is None else level - (e.mean + h.ramp_s / 2.0)
    scatter = e.scatter if e is not None and e.scatter is not None and e.n >= LEAST else h.start_scatter_s
    wanted = max(LEAST, starts_needed(scatter, within_s, confidence))
    return HouseTrim(
        house=h.id,
        file_delay_s=h.start_delay_s,
        file_scatter_s=h.start_scatter_s,
        delay=e,
        with_outliers=estimate([v for _, v in rows[h.id]], confidence) if odd[h.id] else None,
        by=tuple(dict.fromkeys(s.by[h.id] for s in starts if h.id in s.by)),
        missing=len(starts) - len(rows[h.id]),
        correction_s=correction,
        correction_half_s=half,
        worth_it=correction is not None and half is not None and abs(correction) > half,
        more_starts=max(0, wanted - (e.n if e is not None else 0)),
    )


def _with(show: Show, houses: Sequence[HouseTrim], scatter: str, *, corrected: bool) -> Show | None:
    """The show with what was measured in the place of what the file says; None where something is lacking."""
    changed = []
    for h, trim in zip(show.houses, houses, strict=True):
        sigma = getattr(trim.delay, scatter) if trim.delay is not None else None
        if trim.delay is None or sigma is None:
            return None
        moved = trim.correction_s if corrected and trim.worth_it and trim.correction_s is not None else 0.0
        changed.append(
            msgspec.structs.replace(h, start_delay_s=trim.delay.mean + moved, start_scatter_s=float(sigma))
        )
    return msgspec.structs.replace(show, houses=tuple(changed))


def _odds(show: Show | None) -> float | None:
    return None if show is None else chain_of(show).holds()


def _rehearsed(starts: Sequence[Start]) -> list[str]:
    """Simulated machines start as the show file says: nobody is to set a real timer by them unawares."""
    names = [s.record for s in starts if s.rehearsal]
    if not names:
        return []
    said = (
        f"{len(names)} of these {len(starts)} are rehearsals on simulated machines and say nothing of your timers; "
        f"leave out: {', '.join(names)}."
    )
    if len(names) == len(starts):
        said = (
            "These are rehearsals on simulated machines: they show what the show file says, and nothing of your timers. "
            "Dial nothing in by them."
        )
    return [said]


def _notes(starts: Sequence[Start], shifted: list[tuple[str, float]], relative: bool) -> list[str]:
    notes = []
    if shifted and not relative:
        notes.append(
            "In some records all houses are off together: the computer's clock and the timers' differed there. "
            "That does no harm to a loop. With --relative each show's mean is taken out."
        )
    if relative:
        notes.append(
            "Delays are from the mean of all houses: the computer's clock has no part in them. The scatters are solved for "
            "from the differences; their intervals are approximate."
        )
    if any(s.by.get(h) == "counter" for s in starts for h in s.by):
        notes.append(
            "Where no run contact is wired the start is read back from the counter, with the show file's ramp."
        )
    return notes
