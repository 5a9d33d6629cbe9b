"""The report as one HTML file: no script, nothing fetched, prints on paper. Every text from outside is escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from math import isnan

import numpy as np

from interlock.incident.chart import Mark, Strip, strip
from interlock.incident.facts import concerned_links
from interlock.incident.incidents import Incident
from interlock.incident.people import ID_MARK
from interlock.incident.report import AFTER_S, BEFORE_S, PLACES, WHOLE_PLACES, Detail, Drawn, Report
from interlock.incident.rows import (
    answer_rows,
    brief_row,
    gate_row,
    header_rows,
    link_row,
    loop_row,
    measure_rows,
    moment_row,
    unknown_rows,
)

LONGEST_S = 1800.0
"""A chart around an incident that creeps on ends here; the one of the whole show goes on."""

STYLE = """
body{font:15px/1.45 system-ui,sans-serif;color:#1a1a1a;background:#fff;max-width:60rem;margin:1.5rem auto;padding:0 1rem}
h1{font-size:1.5rem}h2{margin-top:2.2rem;border-bottom:2px solid #1a1a1a}h3{margin:1.3rem 0 .3rem}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;margin:.4rem 0}
th,td{text-align:left;vertical-align:top;padding:.15rem .5rem .15rem 0;border-bottom:1px solid #ccc}th{font-weight:600}
.sum{font-size:1.1rem}.caution{border-left:4px solid #777;padding-left:.7rem;color:#333}.warn{font-weight:700}
.wrap{overflow-wrap:anywhere}.one{white-space:nowrap}.first td{font-weight:700}.none{color:#555}
.people{border:1px dashed #555;min-height:2.6em;padding:.4rem;white-space:pre-wrap;margin:.2rem 0 .8rem}
.people:empty::before{content:"click, write, and save this page; or edit the file in any editor";color:#777}
svg{width:100%;height:auto;display:block;margin:.2rem 0 .9rem}svg text{font-size:9px;fill:#333}
.band{fill:#cfcfcf}.line{fill:#1a1a1a;stroke:#1a1a1a;stroke-width:.9}.fine{fill:none;stroke:#D55E00;stroke-width:1.1}
.lim{stroke:#1a1a1a;stroke-dasharray:6 3;fill:none;stroke-width:.8}.zero{stroke:#999;fill:none;stroke-width:.6}
.tick{stroke:#555}.mark{stroke:#555;stroke-dasharray:2 2}svg .ml{font-weight:700}
@media print{body{max-width:none;margin:0;font-size:10.5pt}h2,h3{break-after:avoid}tr,svg{break-inside:avoid}
.people{min-height:5em}.people:empty::before{content:""}}
"""


def html(report: Report, drawn: Drawn, people: dict[str, str]) -> str:
    """The whole report."""
    left = dict(people)
    title = f"{'Rehearsal report' if report.rehearsal else 'Report'}: {report.title}"
    out = [
        '<!doctype html><html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width">',
        f'<meta name="{ID_MARK}" content="{report.id}"><title>{escape(title)}</title><style>{STYLE}</style></head><body>',
        f"<h1>{escape(title)}</h1>",
        f'<p class="sum">{escape(" ".join(report.sentences))}</p><p class="caution">{escape(report.caution)}</p>',
        _table((), header_rows(report), warn=("end", "damage")),
        "<h2>Incidents</h2>",
        _table(
            (
                "no.",
                "first-out",
                "priority",
                "show time",
                "alarms",
                "a person acted",
                "acknowledged",
                "all over",
            ),
            [brief_row(b) for b in report.incidents],
        ),
    ]
    stories = {s.number: s for s in drawn.stories}
    for d in report.details:
        out += _detail(d, stories[d.number], drawn, left)
    out += ["<h2>Every link</h2>", _table(
        ("link", "limits (frames)", "widest drift", "used", "at", "uncertainty", "not known"),
        [link_row(k) for k in report.links],
    ), ("<p>Drift since threaded, frames, over show time: line what the desk reckoned, grey its 95 % band, dashes the limits; "
       "+ the loop grows towards spill, − it goes tight. A gap is unknown. Numbers at thin lines are incidents.</p>"),
       *_whole_charts(drawn)]  # fmt: skip
    out += [
        "<h2>What was not known</h2>",
        _table(("what", "from", "to"), unknown_rows(report)),
        "<h3>Not wired, so never known</h3>",
        _list(report.not_wired),
        "<h3>Adapters</h3>",
        _list(report.adapters),
        "<h2>The alarm system itself</h2>",
        _table(
            ("measure", "here", "target (ISA-18.2-2016, as publicly quoted)"), measure_rows(report.measures)
        ),
        "<h2>What people add</h2>",
        *[_place(f"show/{key}", words, left) for key, words in WHOLE_PLACES],
        *[_place(place, f"Added earlier ({place})", left) for place in sorted(left)],
        "</body></html>\n",
    ]
    return "".join(out)


def _detail(d: Detail, s: Incident, drawn: Drawn, left: dict[str, str]) -> list[str]:
    more = f'<p class="none">{d.moments_left_out} more rows were left out.</p>' if d.moments_left_out else ""
    return [
        f"<h2>{d.number}. {escape(d.title)}</h2><p>{escape(' '.join(d.sentences))}</p>",
        "<h3>How long it took</h3>",
        _table(("", "after its beginning"), answer_rows(d)),
        "<h3>The film at that moment</h3>",
        _table(
            ("house", "footage from the head", "part", "footage in the part", "± (1 sigma, frames)"),
            [gate_row(g) for g in d.gates],
        ),
        _table(("loop", "from", "to", "parts"), [loop_row(k) for k in d.loops]),
        "<h3>Film to inspect</h3>",
        _table(
            ("from", "to", "parts", "why"),
            [(i.from_footage, i.to_footage, ", ".join(i.parts), i.why) for i in d.inspect],
        ),
        "<h3>Not known at that time</h3>",
        _list(d.unknown),
        "<h3>Contributing facts</h3>",
        _list(d.facts),
        *_near_charts(s, drawn),
        "<h3>Time line</h3>",
        _table(
            ("show time", "after", "what", ""),
            [moment_row(d, m) for m in d.moments],
            first={i for i, m in enumerate(d.moments) if m.first_out},
        ),
        more,
        "<h3>What people add</h3>",
        *[_place(f"{d.key}/{key}", words, left) for key, words in PLACES],
    ]


def _near_charts(s: Incident, drawn: Drawn) -> list[str]:
    """The loops concerned, from shortly before to shortly after, with what the counters alone say."""
    r = drawn.recorded
    near = r.course.window(s.began_s - BEFORE_S, min(s.last_s, s.began_s + LONGEST_S) + AFTER_S)
    at_s, show_s = r.course.at_s[near], r.course.show_s[near]
    if len(at_s) < 2 or np.isnan(show_s).any():
        return []
    zero_s = float(at_s[0] - show_s[0])
    marks = tuple(
        Mark(a.raised_s - zero_s, str(n))
        for n, a in enumerate([a for a in s.alarms if not a.suppressed][:12], 1)
    )
    out = [
        (
            "<h3>The loops around it</h3><p>As under “Every link”, and in colour, ten times a second, what the counters alone "
            "say from the beginning of the chart on. Numbers are alarms in the order in which they came.</p>"
        )
    ]
    charts = 0
    for i in concerned_links(r, s):
        link = r.show.links[i]
        fine = np.arange(at_s[0], min(float(at_s[-1]), s.busy_until_s + AFTER_S), 0.1)
        moved = drawn.windows[s.number].frames_between(link.upstream, link.downstream, fine)
        start = float(r.course.drift[i, near][0])
        extra = None if moved is None or isnan(start) else (fine - zero_s, moved + start)
        out.append(
            strip(
                Strip(
                    f"{link.id}: drift around {s.first.name}",
                    show_s, r.course.drift[i, near], r.course.drift_sigma[i, near],
                    link.tight_fr, link.spill_fr, marks, extra,
                )
            )
        )  # fmt: skip
        out[-1] = f"<p><b>{escape(link.id)}</b></p>{out[-1]}"
        charts += 1
    return out if charts else []


def _whole_charts(drawn: Drawn) -> Iterable[str]:
    r = drawn.recorded
    going = ~np.isnan(r.course.show_s)
    x = r.course.show_s[going]
    marks = tuple(
        Mark(s.first.raised_show_s, str(s.number)) for s in drawn.stories if s.first.raised_show_s is not None
    )[:60]
    for i, link in enumerate(r.show.links):
        yield f"<p><b>{escape(link.id)}</b></p>" + strip(
            Strip(
                f"{link.id}: drift over the show",
                x, r.course.drift[i][going], r.course.drift_sigma[i][going],
                link.tight_fr, link.spill_fr, marks,
            )
        )  # fmt: skip


def _table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    first: set[int] | None = None,
    warn: tuple[str, ...] = (),
) -> str:
    if not rows:
        return '<p class="none">none</p>'
    top = f"<tr>{''.join(f'<th>{escape(h)}</th>' for h in head)}</tr>" if head else ""
    body = []
    for n, row in enumerate(rows):
        cls = ' class="first"' if (first and n in first) or row[0] in warn else ""
        body.append(f"<tr{cls}>{''.join(_cell(c) for c in row)}</tr>")
    return f"<table>{top}{''.join(body)}</table>"


def _cell(text: str) -> str:
    """Hashes may break anywhere, short words and figures nowhere."""
    cls = (
        " class=wrap"
        if max(map(len, text.split()), default=0) > 30
        else " class=one"
        if len(text) <= 16
        else ""
    )
    return f"<td{cls}>{escape(text)}</td>"


def _list(texts: Sequence[str]) -> str:
    if not texts:
        return '<p class="none">none</p>'
    return f"<ul>{''.join(f'<li>{escape(t)}</li>' for t in texts)}</ul>"


def _place(place: str, words: str, left: dict[str, str]) -> str:
    text = left.pop(place, "")
    box = f'<div class="people" contenteditable="true" data-place="{escape(place)}">{escape(text)}</div>'
    return f"<p><b>{escape(words)}</b></p>{box}"
