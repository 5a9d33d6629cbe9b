"""A sheet as one HTML file that needs nothing else, and prints on one side of A4 or Letter."""

from __future__ import annotations

import math
from html import escape
from typing import Literal, TypeAlias

from interlock.plan.sheets.document import (
    PAGE_MM,
    Block,
    Cautions,
    Checks,
    Facts,
    Heading,
    Para,
    Picture,
    Sheet,
    Table,
    Walk,
)

Paper: TypeAlias = Literal["any", "a4", "letter"]

# Within the margins: A4 is narrower, Letter is shorter, and a sheet for any paper must stand on both.
_WIDTH_MM = 190.0
_HEIGHT_MM = {"any": 259.0, "a4": 277.0, "letter": 259.0}
_MM_PER_PT = 25.4 / 72.0
_SIZES_PT = [11.0 - 0.25 * i for i in range(23)]  # 11 down to 5.5: smaller cannot be read in a booth
_FILL = 0.94

BOX = '<span class="box"></span>'

_CSS = """
@page { margin: 10mm; %(size)s }
* { box-sizing: border-box; }
body { font: %(pt)spt/1.28 Helvetica, Arial, "Liberation Sans", "DejaVu Sans", sans-serif; color: #000;
       background: #fff; margin: 0; }
@media screen { body { max-width: 210mm; margin: 8mm auto; padding: 0 6mm; font-size: max(%(pt)spt, 9pt); } }
header { display: flex; justify-content: space-between; align-items: baseline; border-bottom: .3em solid #000; }
h1 { font-size: 1.9em; margin: 0; }
header div { text-align: right; }
h2 { font-size: 1.15em; margin: .7em 0 .25em; border-bottom: 1px solid #000; break-after: avoid; }
p { margin: .3em 0; }
p.strong { font-weight: bold; border: 2px solid #000; padding: .3em .5em; }
dl { display: flex; flex-wrap: wrap; gap: .2em 1.6em; margin: .4em 0; }
dt { font-size: .85em; } dd { margin: 0; font-size: 1.35em; font-weight: bold; }
.beside { display: flex; gap: 1em; align-items: flex-start; }
table { border-collapse: collapse; flex: 1; width: 100%%; margin: .3em 0; font-variant-numeric: tabular-nums; }
th { text-align: left; border-bottom: 1.5px solid #000; padding: .1em .35em; font-size: .9em; vertical-align: bottom; }
td { border-bottom: .5px solid #777; padding: .13em .35em; vertical-align: top; }
.r { text-align: right; } .tick { width: 1.8em; } .ticked th:not(:last-child), .ticked td:not(:last-child)
{ width: 1%%; white-space: nowrap; } tr { break-inside: avoid; }
ul { margin: .3em 0; padding-left: 1.1em; } ul.checks { list-style: none; padding: 0; columns: 2; }
ul.checks li { padding-left: 1.5em; text-indent: -1.5em; break-inside: avoid; }
.box { display: inline-block; width: .75em; height: .75em; border: 1px solid #000; margin-right: .35em; }
.cautions { border: 2.5px solid #000; padding: .2em .7em; margin: .6em 0; break-inside: avoid; }
.cautions strong { letter-spacing: .04em; }
.walk { margin: .2em 0; } .walk b { margin-right: .5em; }
.chip { display: inline-block; border: .5px solid #777; padding: 0 .3em; margin: .1em .12em; white-space: nowrap; }
.chip.stuck, .chip.machine { border: 1.5px solid #000; }
.chip.table { border: 1.5px solid #000; font-weight: bold; }
.chip.hazard { border: 2px solid #000; background: #000; color: #fff; font-weight: bold;
               print-color-adjust: exact; -webkit-print-color-adjust: exact; white-space: normal; }
figure { margin: .4em 0; text-align: center; }
figure svg { width: 100%%; height: auto; max-height: %(picture)smm; }
footer { margin-top: .6em; font-size: .85em; }
"""


def html(sheet: Sheet, paper: Paper = "any") -> str:
    """The whole file. ``paper``: for ``a4`` and ``letter`` the file asks the printer for it."""
    size = {"any": "", "a4": "size: A4;", "letter": "size: letter;"}[paper]
    share = max((b.height_share for b in sheet.blocks if isinstance(b, Picture)), default=0.0)
    style = _CSS % {"size": size, "pt": f"{size_pt(sheet, paper):g}", "picture": f"{share * PAGE_MM:.0f}"}
    body = "\n".join(_block(block) for block in sheet.blocks)
    title = escape(f"{sheet.name}: {sheet.show}")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        # Nothing in a sheet runs, and nothing is fetched: not even if something slipped through.
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{title}</title>\n<style>{style}</style>\n</head>\n<body>\n"
        f"<header><h1>{escape(sheet.name)}</h1><div><strong>{escape(sheet.show)}</strong><br>{escape(sheet.when)}</div></header>\n"
        f"{body}\n</body>\n</html>\n"
    )


def _block(block: Block) -> str:
    match block:
        case Heading(text):
            return f"<h2>{escape(text)}</h2>"
        case Para(text, strong):
            return f'<p class="strong">{escape(text)}</p>' if strong else f"<p>{escape(text)}</p>"
        case Facts(items):
            return (
                "<dl>"
                + "".join(f"<div><dt>{escape(a)}</dt><dd>{escape(b)}</dd></div>" for a, b in items)
                + "</dl>"
            )
        case Checks(items):
            ticks = "".join(f"<li>{BOX}{escape(item)}</li>" for item in items)
            return f'<ul class="checks">{ticks}</ul>'
        case Cautions(items):
            said = "".join(f"<li>{escape(item)}</li>" for item in items)
            return f'<section class="cautions"><strong>▲ CAUTIONS</strong><ul>{said}</ul></section>'
        case Walk(title, chips):
            met = " ".join(f'<span class="chip {c.kind}">{escape(c.text)}</span>' for c in chips)
            return f'<div class="walk"><b>{escape(title)}</b>{met}</div>'
        case Table():
            return _table(block)
        case Picture():
            return f'<figure role="img" aria-label="{escape(block.alt)}">{block.svg}</figure>'


def _table(table: Table) -> str:
    each = max(1, math.ceil(len(table.rows) / table.beside))
    pieces = [table.rows[i : i + each] for i in range(0, len(table.rows), each)] or [()]
    head = "".join(_cell("th", text, side) for text, side in zip(table.heads, table.sides, strict=True))
    kind = ' class="ticked"' if table.heads[0] == "☐" and table.sides[-1] == "<" else ""
    tables = []
    for rows in pieces:
        body = "".join(
            "<tr>" + "".join(_cell("td", t, s) for t, s in zip(row, table.sides, strict=True)) + "</tr>"
            for row in rows
        )
        tables.append(f"<table{kind}><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>")
    return f'<div class="beside">{"".join(tables)}</div>' if len(tables) > 1 else tables[0]


def _cell(tag: str, text: str, side: str) -> str:
    if text == "☐":
        return f'<{tag} class="tick">{"" if tag == "th" else BOX}</{tag}>'
    return f'<{tag} class="r">{escape(text)}</{tag}>' if side == ">" else f"<{tag}>{escape(text)}</{tag}>"


def size_pt(sheet: Sheet, paper: Paper = "any") -> float:
    """The largest letters with which the sheet should stand on one side; the smallest if none do."""
    for pt in _SIZES_PT:
        if _height_mm(sheet, pt) <= _FILL * _HEIGHT_MM[paper]:
            return pt
    return _SIZES_PT[-1]


def _height_mm(sheet: Sheet, pt: float) -> float:
    """About how high the sheet is with letters of ``pt``."""
    line_mm = 1.28 * pt * _MM_PER_PT
    chars = _WIDTH_MM / (0.52 * pt * _MM_PER_PT)
    lines, fixed_mm = 3.5, 0.0
    for block in sheet.blocks:
        match block:
            case Heading():
                lines += 2.2
            case Para(text, strong):
                lines += math.ceil(len(text) / chars) + (1.3 if strong else 0.5)
            case Facts(items):
                used = sum(max(len(a) * 0.85, len(b) * 1.45) + 3 for a, b in items)
                lines += math.ceil(used / chars) * 2.6 + 0.6
            case Checks(items):
                lines += sum(math.ceil((len(item) + 3) / (chars / 2 - 3)) for item in items) / 2 + 1.2
            case Cautions(items):
                lines += sum(math.ceil((len(item) + 3) / (chars - 4)) for item in items) + 2.6
            case Walk(title, chips):
                used = len(title) * 1.1 + 2 + sum(len(chip.text) + 2.2 for chip in chips)
                lines += math.ceil(used / (chars - 4)) * 1.28 + 0.6
            case Table():
                lines += _table_lines(block, chars)
            case Picture():
                fixed_mm += block.height_share * PAGE_MM + 2.0
    return lines * line_mm + fixed_mm


def _table_lines(table: Table, chars: float) -> float:
    """A row's lines by its longest cells: the width is shared by what each column needs."""
    width = chars / table.beside - 2
    longest = [max(len(cell) for cell in column) for column in zip(table.heads, *table.rows, strict=True)]
    over = sum(longest) + 1.6 * len(longest) - width
    widest = max(longest)
    wrapped = max(1.0, widest - over) if over > 0 else widest
    place = longest.index(widest)
    rows = sum(math.ceil(len(row[place]) / wrapped) if over > 0 else 1 for row in table.rows)
    return (rows / table.beside + 1.2) * 1.26 + 0.6
