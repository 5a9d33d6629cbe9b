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
    head = [f"# {_text(sheet.name)}: {_text(sheet.show)}", _text(sheet.when)]
    return "\n\n".join([*head, *(_block(block) for block in sheet.blocks)]) + "\n"


def _text(text: str) -> str:
    """Text that is text to whoever reads Markdown, or makes HTML of it."""
    escaped = _ANYWHERE.sub(r"\\\1", text.replace("&", "&amp;").replace("<", "&lt;"))
    return _AT_THE_START.sub(lambda m: f"{m[1]}\\" if m[1].isdigit() else f"\\{m[1]}", escaped)


def _block(block: Block) -> str:
    match block:
        case Heading(text):
            return f"## {_text(text)}"
        case Para(text, strong):
            return f"**{_text(text)}**" if strong else _text(text)
        case Facts(items):
            return "\n".join(f"- {_text(what)}: **{_text(value)}**" for what, value in items)
        case Checks(items):
            return "\n".join(f"- [ ] {_text(item)}" for item in items)
        case Cautions(items):
            return "\n".join(["**▲ CAUTIONS**", "", *(f"- {_text(item)}" for item in items)])
        case Walk(title, chips):
            return "\n".join([f"**{_text(title)}**", "", *(f"- [ ] {_text(chip.text)}" for chip in chips)])
        case Table(heads, sides, rows):
            lines = [heads, tuple("---:" if side == ">" else "---" for side in sides)]
            head, rule = ("| " + " | ".join(line) + " |" for line in lines)
            body = ["| " + " | ".join(_text(cell) for cell in row) + " |" for row in rows]
            return "\n".join([head, rule, *body])
        case Picture():
            return f"![{_text(block.alt)}]({block.file})"
