"""The report as one HTML file: no script, nothing fetched, prints on paper. Every text from outside is escaped."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from interlock.incident.charts import WHOLE_LEGEND, near_charts, whole_charts
from interlock.incident.people import ID_MARK
from interlock.incident.report import Drawn, Report
from interlock.incident.sections import Bullets, Charts, Heading, Part, Place, Table, Text, parts, title

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


_SORTS = {"summary": ' class="sum"', "caution": ' class="caution"', "remark": ' class="none"'}
FIRST = ' class="first"'
_NONE = '<p class="none">none</p>'


def html(report: Report, drawn: Drawn, people: dict[str, str]) -> str:
    """The whole report."""
    head = [
        '<!doctype html><html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width">',
        f'<meta name="{ID_MARK}" content="{report.id}"><title>{escape(title(report))}</title>',
        f"<style>{STYLE}</style></head><body>",
    ]
    body = (_part(part, drawn, people) for part in parts(report, list(people)))
    return "".join([*head, *body, "</body></html>\n"])


def _part(part: Part, drawn: Drawn, people: dict[str, str]) -> str:
    match part:
        case Heading(level, text):
            return f"<h{level}>{escape(text)}</h{level}>"
        case Text(text, sort):
            return f"<p{_SORTS.get(sort, '')}>{escape(text)}</p>"
        case Table():
            return _table(part)
        case Bullets(items):
            return f"<ul>{''.join(f'<li>{escape(t)}</li>' for t in items)}</ul>" if items else _NONE
        case Place(key, words):
            box = f'<div class="people" contenteditable="true" data-place="{escape(key)}">{escape(people.get(key, ""))}</div>'
            return f'<div class="place"><p><b>{escape(words)}</b></p>{box}</div>'
        case Charts():
            return "".join(_charts(part, drawn))


def _charts(part: Charts, drawn: Drawn) -> Iterable[str]:
    if part.incident is None:
        return [f"<p>{WHOLE_LEGEND}</p>", *whole_charts(drawn)]
    return near_charts(next(s for s in drawn.stories if s.number == part.incident), drawn)


def _table(table: Table) -> str:
    if not table.rows:
        return _NONE
    head = "".join(f"<th>{escape(h)}</th>" for h in table.head)
    top = f"<thead><tr>{head}</tr></thead>" if any(table.head) else ""
    body = [
        f"<tr{FIRST if n in table.marked else ''}>{''.join(_cell(c) for c in row)}</tr>"
        for n, row in enumerate(table.rows)
    ]
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
