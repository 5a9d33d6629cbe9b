"""The odds in words and columns, for a terminal of eighty columns or a printed page."""

from __future__ import annotations

import math
import textwrap

from interlock.plan.odds_report import OddsReport
from interlock.plan.odds_stop import DeadStop
from interlock.showfile.show import Show

_WIDTH = 79
_MOST_HELPS = 5


def share(p: float) -> str:
    """A probability in per cent: as many digits as tell it from certainty, never rounded up to it."""
    if p >= 1.0 - 1e-9:
        return "100 %" if p >= 1.0 else ">99.9999 %"
    for digits in (2, 3, 4):
        if 100.0 * (1.0 - p) >= 1.5 * 10.0**-digits:
            return f"{100.0 * p:.{digits}f} %"
    return ">99.9999 %" if p > 0.999999 else f"{100.0 * p:.4f} %"


def lost(p: float) -> str:
    """How often it does not hold: ``lost 1 in 1,200``."""
    loss = 1.0 - p
    if loss < 1e-9:
        return "lost never"
    return f"lost 1 in {1.0 / loss:,.0f}" if loss < 0.1 else f"lost {100.0 * loss:.1f} %"


def words(show: Show, report: OddsReport) -> str:
    """Everything, as lines without markup."""
    lines = [f"{show.title}: the odds", ""]
    if not report.links:
        return "\n".join([*lines, *report.notes])
    how = "exact" if report.start_exact else _simulated(report, report.start_holds)
    lines.append(f"The start holds  {share(report.start_holds):>11}   {how}")
    how = "exact" if report.method == "exact" else _simulated(report, report.run_holds)
    lines += [f"The run holds    {share(report.run_holds):>11}   {how}", ""]
    lines += [
        *_links(show, report),
        "",
        *_timers(report),
        "",
        *_helps(show, report),
        "",
        *_dead_stops(report),
    ]
    for note in report.notes:
        lines += ["", *textwrap.wrap(note, _WIDTH)]
    return "\n".join(lines)


def _simulated(report: OddsReport, p: float) -> str:
    assert report.shows is not None
    sigma = math.sqrt(p * (1.0 - p) / report.shows)
    doubt = f", ± {100.0 * sigma:.2g} %" if sigma > 0.0 else ""
    return f"{report.shows:,} simulated shows, seed {report.seed}{doubt}"


def _links(show: Show, report: OddsReport) -> list[str]:
    lines = ["link              start          run    tight    spill"]
    for link, odds in zip(show.links, report.links, strict=True):
        mark = "   weakest" if odds.link == report.weakest else ""
        limits = f"{link.tight_fr / show.fps:6.1f} s {link.spill_fr / show.fps:6.1f} s"
        lines.append(
            f"{odds.link:<13} {share(odds.start_holds):>10}  {share(odds.run_holds):>11} {limits}{mark}"
        )
    return lines


def _timers(report: OddsReport) -> list[str]:
    lines = ["Scatter (1 sigma) that every start timer may have, delays and ramps as they are:"]
    for target, scatter_s in report.scatter_for.items():
        what = "no timer is good enough" if scatter_s is None else f"{scatter_s:.3f} s"
        lines.append(f"  for {100.0 * float(target):g} %: {what}")
    return lines


def _helps(show: Show, report: OddsReport) -> list[str]:
    names = {h.id: h.name for h in show.houses}
    lines = ["Fewer than one start in a million is lost: no timer and no loop needs help."]
    before = report.helps[0].before
    if before < 1.0 - 1e-6:
        best = [h for h in report.helps if h.gain > 1e-3 * (1.0 - before)][:_MOST_HELPS]
        lines = [
            f"What would help the start most ({lost(before)} now):"
            if best
            else "No one timer or loop would help."
        ]
        for h in best:
            text = f"{lost(h.after)}: {h.sentence(names)}"
            lines += textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="      ")
    if report.run_holds < report.start_holds - 0.5 * (1.0 - report.start_holds) - 1e-4:
        lines += textwrap.wrap(
            "Most runs that are lost are lost after the start, by machines that do not keep the same speed: "
            "no timer helps there. Put the machines on one supply with synchronous motors, or count their "
            "frames and watch.",
            _WIDTH,
        )
    return lines


def _dead_stops(report: OddsReport) -> list[str]:
    lines = [
        "If one machine stops dead: when the limit is reached, and by when the other must",
        "be cut for its own coasting still to fit",
        "link           upstream stops, tight    downstream stops, spill",
    ]
    for up, down in zip(report.dead_stops[::2], report.dead_stops[1::2], strict=True):
        lines.append(f"{up.link:<14} {_when(up)}   {_when(down)}   {_saved(up, down)}")
    return lines


def _when(stop: DeadStop) -> str:
    return f"{stop.to_limit_s:6.2f} s, by {stop.to_act_s:6.2f} s"


def _saved(up: DeadStop, down: DeadStop) -> str:
    if up.by_hand and down.by_hand:
        return "by hand"
    return "wired stop" if up.wired else "NO WIRED STOP"
