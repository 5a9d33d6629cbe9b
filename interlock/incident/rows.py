"""Rows of the report's tables as plain words, the same in HTML and Markdown."""

from __future__ import annotations

from interlock.film import format_time
from interlock.incident.detail import Brief, Detail
from interlock.incident.links import LinkCourse
from interlock.incident.measures import Measures
from interlock.incident.moments import Moment
from interlock.incident.report import Report
from interlock.incident.told import local, percent, plus_minus, span
from interlock.incident.where import GateFilm, LoopFilm

UNKNOWN = "not known"

BRIEF = ("no.", "first-out", "priority", "show time", "alarms", "a person acted", "acknowledged", "all over")
TOOK = ("", "after its beginning")
GATES = ("house", "footage from the head", "part", "footage in the part", "± (1 sigma, frames)")
LOOPS = ("loop", "from", "to", "parts")
INSPECT = ("from", "to", "parts", "why")
UNSEEN = ("from", "to", "parts", "why", "both ends (1 sigma, frames)")
MOMENTS = ("show time", "after", "what", "")
LINKS = (
    "link",
    "limits (frames)",
    "widest drift (frames)",
    "used",
    "at",
    "uncertainty (frames)",
    "not known",
)
MEASURES = ("measure", "here", "target (ISA-18.2-2016, as publicly quoted)")
"""The heads of the tables."""

FOOTAGE = (
    "Footage is film feet + frames from the first picture frame (0+00); negative is leader. In ± is the survey of the paths "
    "between the houses, until somebody tells the desk which frame is in a gate (mark)."
)
UNSEEN_NOTE = (
    "Nothing in the record says that this film was harmed; it passed without its picture being seen."
)


def show_time(show_s: float | None) -> str:
    """``0:05:00.2``; in words before show zero."""
    return "before zero" if show_s is None else format_time(show_s, 1)


def clock(at_s: float, timezone: str) -> str:
    """Time of day in the show's time zone, as in the sentences."""
    return local(timezone, at_s)


def header_rows(r: Report) -> list[tuple[str, str]]:
    """What the report is of."""
    scenario = f", scenario “{r.scenario}”" if r.scenario is not None else ""
    kind = f"a rehearsal on simulated machines (seed {r.seed}{scenario})" if r.rehearsal else "a show"
    rows = [
        ("record", f"{r.record}, of {kind}"),
        ("from, to", f"{r.began_at}, {r.ended_at} (UTC; all other times of day are {r.timezone})"),
        ("houses in film order", " ".join(r.houses)),
        (
            "film",
            f"{r.film}, {r.fps:g} frames a second; footage counts from the first picture frame (0+00), leader is negative",
        ),
        ("written by", f"version {r.program}, Python {r.python}"),
        (
            "chain head",
            f"{r.head} (as it stands in the file; longlace verify reckons whether the record is unaltered)",
        ),
    ]
    if r.cut:
        rows.append(
            (
                "end",
                "THE RECORD HAS NO END MARK: it was cut off, or is still being written. What came after is not in it.",
            )
        )
    if r.damage is not None:
        rows.append(("damage", f"A PART OF THE RECORD COULD NOT BE READ: {r.damage}"))
    if r.refolded and any(k.known_s for k in r.links):
        rows.append(("charts", "folded anew by today's desk: the record keeps no seconds of its own"))
    return rows


def brief_row(b: Brief) -> tuple[str, ...]:
    """One incident in the list."""
    title = f"{b.title}: {b.means}" if b.means else b.title
    title += f"; gravest that followed: {b.gravest}" if b.gravest else ""
    return (
        str(b.number), title, b.priority, show_time(b.show_s), str(b.alarms),
        span(b.person_s), span(b.acknowledged_s), span(b.gone_s),
    )  # fmt: skip


def answer_rows(d: Detail) -> list[tuple[str, str]]:
    """How long it took."""
    a = d.answered
    rows = [
        ("the desk raised the first alarm", span(a.raised)),
        (
            "a person's first action",
            f"{span(a.person)} ({a.person_did})" if a.person is not None else "not recorded",
        ),
        ("first acknowledgement", span(a.acknowledged)),
        ("every condition over", span(a.gone) if a.gone is not None else "not before the record ends"),
    ]
    if a.stopped is not None:
        rows.insert(3, ("the show stood", span(a.stopped)))
        rows.append(
            ("all machines ran again", span(a.running) if a.running is not None else "not in this record")
        )
    return rows


def gate_row(g: GateFilm) -> tuple[str, ...]:
    """The film in one gate."""
    if g.footage is None:
        return (g.house, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)
    sigma = f"{g.sigma_fr:.1f}" if g.sigma_fr is not None else UNKNOWN
    return (g.house, f"{g.footage} (frame {g.frame:.1f})", g.part or UNKNOWN, g.part_footage or "–", sigma)


def loop_row(k: LoopFilm) -> tuple[str, ...]:
    """The film in one loop."""
    return (k.link, k.from_footage or UNKNOWN, k.to_footage or UNKNOWN, ", ".join(k.parts) or UNKNOWN)


def moment_row(d: Detail, m: Moment) -> tuple[str, ...]:
    """One row of the time line."""
    at = show_time(None if d.began_show_s is None else d.began_show_s + m.after_s)
    return (at, f"{m.after_s:+.2f} s", m.kind, m.text)


def link_row(k: LinkCourse) -> tuple[str, ...]:
    """One link over the whole show."""
    limits = f"tight {k.tight_fr:.0f}, spill {k.spill_fr:.0f}{', wired stop' if k.wired else ''}"
    if k.widest_fr is None or k.widest_used is None:
        return (k.link, limits, f"{UNKNOWN}{_closed(k)}", UNKNOWN, "–", UNKNOWN, "always")
    return (
        k.link,
        limits,
        f"{k.widest_fr:+.1f} {plus_minus(2 * (k.widest_sigma_fr or 0.0))} (95 %){_closed(k)}",
        percent(k.widest_used),
        show_time(k.widest_show_s),
        f"at most {plus_minus(2 * (k.sigma_most_fr or 0.0))} (95 %)",
        span(k.unknown_s) if k.unknown_s else "never",
    )


def _closed(k: LinkCourse) -> str:
    """Limit switches that closed: the machines alone do not always say so."""
    return "".join(f"; its {which} switch closed at {show_time(at_s)}" for which, at_s in k.switches)


def inspect_rows(d: Detail, *, unseen: bool) -> list[tuple[str, ...]]:
    """Film that somebody should look at, or that only passed without picture."""
    rows: list[tuple[str, ...]] = []
    for i in d.inspect:
        if i.unseen is not unseen:
            continue
        when = "at its beginning" if i.after_s < 0.05 else f"{span(i.after_s)} after its beginning"
        row = (i.from_footage, i.to_footage, ", ".join(i.parts), f"{i.why} ({when})")
        sure = "not known" if i.sigma_fr is None else f"± {i.sigma_fr:.1f}"
        rows.append((*row, sure) if unseen else row)
    return rows


def unknown_rows(r: Report) -> list[tuple[str, str, str]]:
    """What was not known, and when."""
    return [
        (
            f"{s.subject}: {s.what}",
            clock(s.from_s, r.timezone),
            clock(s.to_s, r.timezone) if s.to_s is not None else "the end of the record",
        )
        for s in r.unknown
    ]


def measure_rows(m: Measures) -> list[tuple[str, str, str]]:
    """The alarm system's own measures against their targets."""
    share = (
        ", ".join(f"{p} {percent(m.share.get(p, 0.0))}" for p in ("low", "medium", "high"))
        if m.alarms
        else "–"
    )
    return [
        ("alarms", str(m.alarms), ""),
        ("average in 10 min", f"{m.per_10_min:.2f}", "about 1, at most 2"),
        ("most in any 10 min", str(m.most_in_10_min), "10"),
        ("floods", str(len(m.floods)), "none (more than 10 in 10 min, until fewer than 5)"),
        ("chattering", ", ".join(f"{c} on {s}" for c, s in m.chattering) or "none", "none"),
        ("fleeting (gone within 2 s)", str(m.fleeting), "none"),
        ("standing longer than 10 min", ", ".join(f"{c} on {s}" for c, s in m.standing) or "none", "few"),
        ("low, medium, high", share, "about 80, 15, 5 %"),
    ]


def unknown_head(r: Report) -> tuple[str, str, str]:
    """The head of :func:`unknown_rows`: whose clock it is."""
    return ("what", f"from ({r.timezone})", "to")
