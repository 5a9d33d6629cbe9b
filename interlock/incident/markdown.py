"""The report as Markdown. Every text from outside has its marks escaped."""

from __future__ import annotations

import re
from collections.abc import Sequence

from interlock.incident.people import ID_MARK
from interlock.incident.report import Report
from interlock.incident.sections import Bullets, Heading, Part, Place, Table, Text, parts

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
    body = (_part(part, people) for part in parts(report, list(people)))
    return "\n".join([f"<!-- {ID_MARK} {report.id} -->", *(text for text in body if text)]) + "\n"


def _part(part: Part, people: dict[str, str]) -> str:
    match part:
        case Heading(level, text):
            return f"{'#' * level} {escaped(text)}\n"
        case Text(text, _):
            return f"{escaped(text)}\n"
        case Table(head, rows, _):
            return table(head, rows)
        case Bullets(items):
            return bullets(items)
        case Place(key, words):
            text = people.get(key, "").replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
            return f"**{escaped(words)}**\n\n<!-- people {key} -->\n{text}\n<!-- end -->\n"
        case _:
            return ""  # charts are drawn in the HTML alone
