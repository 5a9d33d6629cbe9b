"""Trims for people: a table, the outliers by name, the odds, and what is lacking."""

from __future__ import annotations

from interlock.incident.trims import HouseTrim, Trims

_HEAD = f"{'house':8} {'starts':>6}  {'delay (s)':>20}  {'scatter (s)':>22}  {'dial in (s)':>18}  more starts needed"


def words(t: Trims) -> str:
    """All of it, a line a row."""
    of = "from the mean of all houses" if t.relative else "from motor_start"
    rows = [
        (
            f"{t.title}: start delays {of}, out of {len(t.records)} recorded {'start' if len(t.records) == 1 else 'starts'}, "
            f"with {100.0 * t.confidence:g} % intervals."
        ),
        "",
        _HEAD,
        *[_row(h) for h in t.houses],
        "",
    ]
    rows += [
        f"Outlier, left out: house {x.house} started {x.delay_s:+.3f} s in {x.record}." for x in t.outliers
    ]
    for h in t.houses:
        if h.with_outliers is not None and h.with_outliers.scatter is not None:
            rows.append(
                f"House {h.house} with its outliers: delay {h.with_outliers.mean:+.3f} s, "
                f"scatter {h.with_outliers.scatter:.3f} s."
            )
        if h.missing:
            rows.append(f"House {h.house}: in {h.missing} of the records nobody saw it start.")
    rows += [f"All houses together {by_s:+.2f} s off in {record}." for record, by_s in t.shifted]
    rows += list(t.notes)
    rows += [*_odds(t), _lacking(t)]
    return "\n".join(rows)


def _row(h: HouseTrim) -> str:
    e = h.delay
    if e is None:
        return f"{h.house:8} {0:6d}  {'never seen to start':>20}"
    delay = f"{e.mean:+.3f}" if e.high is None else f"{e.mean:+.3f} ± {e.high - e.mean:.3f}"
    scatter = "not known"
    if e.scatter is not None and e.scatter_low is not None and e.scatter_high is not None:
        scatter = f"{e.scatter:.3f} ({e.scatter_low:.3f}–{e.scatter_high:.3f})"
    dial = "–" if h.correction_s is None else f"{h.correction_s:+.3f}" if h.worth_it else "leave it"
    return f"{h.house:8} {e.n:6d}  {delay:>20}  {scatter:>22}  {dial:>18}  {h.more_starts or 'none'}"


NEARLY = 0.999999


def _share(p: float) -> str:
    """In percent; nothing is ever certain."""
    return f"{100.0 * p:.4f} %" if p < NEARLY else f"over {100.0 * NEARLY:.4f} %"


def _odds(t: Trims) -> list[str]:
    rows = [f"Odds that a start holds: by the show file {_share(t.odds_file)}"]
    if t.odds_measured is not None:
        rows[0] += f", as measured {_share(t.odds_measured)}"
    if t.odds_corrected is not None:
        rows[0] += f", with the corrections dialed in {_share(t.odds_corrected)}"
    if t.odds_cautious is not None:
        rows.append(f"With every scatter at the upper end of its interval: {_share(t.odds_cautious)}.")
    rows[0] += "."
    return rows


def _lacking(t: Trims) -> str:
    more = max((h.more_starts for h in t.houses), default=0)
    if not more:
        return f"Enough starts: every delay is known to ± {t.within_s:g} s or better."
    return (
        f"Too few starts: about {more} more are needed for every delay to be known to ± {t.within_s:g} s. "
        "Until then the corrections are a first guess."
    )
