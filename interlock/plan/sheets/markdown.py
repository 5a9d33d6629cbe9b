"""A sheet as Markdown: the same words, to be read in an editor or put beside other notes."""

from __future__ import annotations

import re

from interlock.plan.sheets.document import (
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

# What is markup anywhere, and what is only where a line begins: more escapes would be hard to read in an editor.
_ANYWHERE = re.compile(r"([\\`*_\[\]|~])")
_AT_THE_START = re.compile(r"^([-+#>=]|[0-9]+(?=[.)]))")


def markdown(sheet: Sheet) -> str:
    """The whole file."""
    head = [f"# {_within(sheet.name)}: {_within(sheet.show)}", _text(sheet.when)]
    return "\n\n".join([*head, *(_block(block) for block in sheet.blocks)]) + "\n"


def _text(text: str) -> str:
    """Text that is text to whoever reads Markdown, or makes HTML of it, where a line or an item of a list begins."""
    escaped = _within(text)
    return _AT_THE_START.sub(lambda m: f"{m[1]}\\" if m[1].isdigit() else f"\\{m[1]}", escaped)


def _within(text: str) -> str:
    """The same where no line begins, as in a cell: there ``2.0 s`` and ``-67+08`` are no markup."""
    return _ANYWHERE.sub(r"\\\1", text.replace("&", "&amp;").replace("<", "&lt;"))


def _block(block: Block) -> str:
    match block:
        case Heading(text):
            return f"## {_within(text)}"
        case Para(text, strong):
            return f"**{_within(text)}**" if strong else _text(text)
        case Facts(items):
            return "\n".join(f"- {_text(what)}: **{_within(value)}**" for what, value in items)
        case Checks(items):
            return "\n".join(f"- [ ] {_text(item)}" for item in items)
        case Cautions(items):
            return "\n".join(["**▲ CAUTIONS**", "", *(f"- {_text(item)}" for item in items)])
        case Walk(title, chips):
            return "\n".join([f"**{_within(title)}**", "", *(f"- [ ] {_text(chip.text)}" for chip in chips)])
        case Table(heads, sides, rows):
            lines = [heads, tuple("---:" if side == ">" else "---" for side in sides)]
            head, rule = ("| " + " | ".join(line) + " |" for line in lines)
            body = ["| " + " | ".join(_within(cell) for cell in row) + " |" for row in rows]
            return "\n".join([head, rule, *body])
        case Picture():
            return f"![{_within(block.alt)}]({block.file})"
