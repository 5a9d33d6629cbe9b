"""The report as Markdown. Every text from outside has its marks escaped."""

from __future__ import annotations

import re
from collections.abc import Sequence

from interlock.incident.moments import WORDS
from interlock.incident.people import ID_MARK
from interlock.incident.report import PLACES, WHOLE_PLACES, Detail, Report
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

_MARKS = re.compile(r"([\\`*_{}\[\]|#])")


def escaped(text: str) -> str:
    """Shown as what it is."""
    return _MARKS.sub(r"\\\1", text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")).replace(
        "\n", " "
    )


def table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    """A table; a word where it has no row."""
    if not rows:
        return "none\n"
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    lines += ["| " + " | ".join(escaped(c) for c in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def bullets(texts: tuple[str, ...]) -> str:
    """A list; a word where it is empty."""
    return "".join(f"- {escaped(t)}\n" for t in texts) or "none\n"


def markdown(report: Report, people: dict[str, str]) -> str:
    """The whole report."""
    left = dict(people)
    out = [
        f"<!-- {ID_MARK} {report.id} -->",
        f"# {'Rehearsal report' if report.rehearsal else 'Report'}: {escaped(report.title)}\n",
        " ".join(escaped(s) for s in report.sentences) + "\n",
        f"{escaped(report.caution)}\n",
        table(("", ""), header_rows(report)),
        "## Incidents\n",
        table(BRIEF, [brief_row(b) for b in report.incidents]),
    ]  # fmt: skip
    for d in report.details:
        out += _detail(d, left)
    out += [
        "## Every link\n",
        table(LINKS, [link_row(k) for k in report.links]),
        "## What was not known\n",
        table(unknown_head(report), unknown_rows(report)),
        "Not wired, so never known:\n",
        bullets(report.not_wired),
        "Adapters:\n",
        bullets(report.adapters),
        "## The alarm system itself\n",
        table(MEASURES, measure_rows(report.measures)),
        "## What people add\n",
        *[_place(f"show/{key}", words, left) for key, words in WHOLE_PLACES],
        *[_place(place, f"Added earlier ({place})", left) for place in sorted(left)],
    ]  # fmt: skip
    return "\n".join(out) + "\n"


def _detail(d: Detail, left: dict[str, str]) -> list[str]:
    rows = inspect_rows(d, unseen=True)
    unseen = (
        ["### Film that passed without its picture\n", table(UNSEEN, rows), UNSEEN_NOTE + "\n"]
        if rows
        else []
    )
    return [
        f"## {d.number}. {escaped(d.title)}\n",
        " ".join(escaped(s) for s in d.sentences) + "\n",
        "### How long it took\n",
        table(TOOK, answer_rows(d)),
        "### The film at that moment\n",
        table(GATES, [gate_row(g) for g in d.gates]),
        table(LOOPS, [loop_row(k) for k in d.loops]),
        FOOTAGE + "\n",
        "### Film to inspect\n",
        table(INSPECT, inspect_rows(d, unseen=False)),
        *unseen,
        "### Not known at that time\n",
        bullets(d.unknown),
        "### Contributing facts\n",
        bullets(d.facts),
        "### Time line\n",
        table(MOMENTS, [moment_row(d, m) for m in d.moments]),
        WORDS + "\n",
        f"{d.moments_left_out} more rows were left out.\n" if d.moments_left_out else "",
        "### What people add\n",
        *[_place(f"{d.key}/{key}", words, left) for key, words in PLACES],
    ]  # fmt: skip


def _place(place: str, words: str, left: dict[str, str]) -> str:
    text = left.pop(place, "").replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return f"**{escaped(words)}**\n\n<!-- people {place} -->\n{text}\n<!-- end -->\n"
