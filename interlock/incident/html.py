"""The report as one HTML file: no script, nothing fetched, prints on paper. Every text from outside is escaped."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from interlock.incident.charts import WHOLE_LEGEND, near_charts, whole_charts
from interlock.incident.incidents import Incident
from interlock.incident.moments import WORDS
from interlock.incident.people import ID_MARK
from interlock.incident.report import PLACES, WHOLE_PLACES, Detail, Drawn, Report
from interlock.incident.rows import (
    BRIEF,
    FOOTAGE,
    GATES,
    INSPECT,
    LINKS,
    LOOPS,
    MEASURES,
    MOMENTS,
    TOOK,
    UNSEEN,
    UNSEEN_NOTE,
    answer_rows,
    brief_row,
    gate_row,
    header_rows,
    inspect_rows,
    link_row,
    loop_row,
    measure_rows,
    moment_row,
    unknown_head,
    unknown_rows,
)

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
figure{margin:.2rem 0 .6rem}figcaption{font-weight:700}.on{fill:#1a1a1a}
.band{fill:#cfcfcf}.line{fill:#1a1a1a;stroke:#1a1a1a;stroke-width:.9}.fine{fill:none;stroke:#D55E00;stroke-width:1.1}
.lim{stroke:#1a1a1a;stroke-dasharray:6 3;fill:none;stroke-width:.8}.zero{stroke:#999;fill:none;stroke-width:.6}
.tick{stroke:#555}.mark{stroke:#555;stroke-dasharray:2 2}svg .ml{font-weight:700}
@media print{body{max-width:none;margin:0;font-size:10.5pt}
h2,h3,figcaption,th{break-after:avoid}tr,svg,figure,.place{break-inside:avoid}
thead{display:table-header-group}
p{orphans:3;widows:3}.people{min-height:5em}.people:empty::before{content:""}}
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
        _table(BRIEF, [brief_row(b) for b in report.incidents]),
    ]
    stories = {s.number: s for s in drawn.stories}
    for d in report.details:
        out += _detail(d, stories[d.number], drawn, left)
    out += ["<h2>Every link</h2>", _table(LINKS, [link_row(k) for k in report.links]), f"<p>{WHOLE_LEGEND}</p>",
       *whole_charts(drawn)]  # fmt: skip
    out += [
        "<h2>What was not known</h2>",
        _table(unknown_head(report), unknown_rows(report)),
        "<h3>Not wired, so never known</h3>",
        _list(report.not_wired),
        "<h3>Adapters</h3>",
        _list(report.adapters),
        "<h2>The alarm system itself</h2>",
        _table(MEASURES, measure_rows(report.measures)),
        "<h2>What people add</h2>",
        *[_place(f"show/{key}", words, left) for key, words in WHOLE_PLACES],
        *[_place(place, f"Added earlier ({place})", left) for place in sorted(left)],
        "</body></html>\n",
    ]
    return "".join(out)


def _detail(d: Detail, s: Incident, drawn: Drawn, left: dict[str, str]) -> list[str]:
    more = f'<p class="none">{d.moments_left_out} more rows were left out.</p>' if d.moments_left_out else ""
    rows = inspect_rows(d, unseen=True)
    unseen = (
        [
            "<h3>Film that passed without its picture</h3>",
            _table(UNSEEN, rows),
            f'<p class="none">{UNSEEN_NOTE}</p>',
        ]
        if rows
        else []
    )
    return [
        f"<h2>{d.number}. {escape(d.title)}</h2><p>{escape(' '.join(d.sentences))}</p>",
        "<h3>How long it took</h3>",
        _table(TOOK, answer_rows(d)),
        "<h3>The film at that moment</h3>",
        _table(GATES, [gate_row(g) for g in d.gates]),
        _table(LOOPS, [loop_row(k) for k in d.loops]),
        f'<p class="none">{escape(FOOTAGE)}</p>',
        "<h3>Film to inspect</h3>",
        _table(INSPECT, inspect_rows(d, unseen=False)),
        *unseen,
        "<h3>Not known at that time</h3>",
        _list(d.unknown),
        "<h3>Contributing facts</h3>",
        _list(d.facts),
        *near_charts(s, drawn),
        "<h3>Time line</h3>",
        _table(
            MOMENTS,
            [moment_row(d, m) for m in d.moments],
            first={i for i, m in enumerate(d.moments) if m.first_out},
        ),
        f'<p class="none">{escape(WORDS)}</p>',
        more,
        "<h3>What people add</h3>",
        *[_place(f"{d.key}/{key}", words, left) for key, words in PLACES],
    ]


def _table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    first: set[int] | None = None,
    warn: tuple[str, ...] = (),
) -> str:
    if not rows:
        return '<p class="none">none</p>'
    top = f"<thead><tr>{''.join(f'<th>{escape(h)}</th>' for h in head)}</tr></thead>" if any(head) else ""
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
    return f'<div class="place"><p><b>{escape(words)}</b></p>{box}</div>'
