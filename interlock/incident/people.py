"""What people have written into a report, read back when it is made again.

HTML: whatever stands in an element with ``data-place``; Markdown: whatever stands between the two marks of a place;
JSON: the object ``people``. A text whose place is no longer there is kept all the same, under its old name.
"""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path

from interlock.errors import UsageError
from interlock.text import clean

MOST_BYTES = 20_000_000
MOST_CHARS = 20_000
ID_MARK = "longlace-report"
_MARKDOWN_ID = re.compile(rf"<!-- {ID_MARK} ([0-9a-f]{{16}}) -->")
_MARKDOWN_PLACE = re.compile(r"<!-- people (\S+) -->\n(.*?)\n?<!-- end -->", re.DOTALL)
_VOID = frozenset({"br", "img", "hr", "input", "meta", "link"})
_BLOCK = frozenset({"div", "p", "li", "tr", "br", "ul", "ol"})


def tidy(text: str) -> str:
    """Somebody's text as safe lines: no control, escape or bidi characters, no blank lines at its ends."""
    lines = [clean(line, 2_000) for line in text[:MOST_CHARS].splitlines()]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip()


def kept(path: Path, report_id: str) -> dict[str, str]:
    """What people have written into the report at ``path``, by place; nothing if there is no such file.

    ``UsageError`` if what is there is no report, or one of another record: it would be lost.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise UsageError(f"{path}: is too large for a report; name another file")
        text = path.read_text("utf-8")
    except FileNotFoundError:
        return {}
    except IsADirectoryError:
        raise UsageError(f"{path}: is a folder; name a file in it") from None
    except UnicodeDecodeError:
        raise UsageError(f"{path}: is there already and is no report; name another file") from None
    except OSError as error:
        raise UsageError(f"{path}: cannot be read: {error.strerror}") from error
    found_id, people = _READERS[sort_of(path)](text)
    if found_id is None:
        raise UsageError(f"{path}: is there already and is no report of this program; name another file")
    if found_id != report_id:
        raise UsageError(f"{path}: is the report of another record; name another file")
    return {place: t for place, raw in people.items() if (t := tidy(raw))}


def sort_of(path: Path) -> str:
    """``html``, ``md`` or ``json`` by the file's suffix; ``UsageError`` names them."""
    sorts = {".html": "html", ".htm": "html", ".md": "md", ".markdown": "md", ".json": "json"}
    found = sorts.get(path.suffix.lower())
    if found is None:
        raise UsageError(f"--out {path}: found {path.suffix or 'no suffix'!r}, expected .html, .md or .json")
    return found


def write(path: Path, text: str) -> None:
    """All of it or nothing: what stood there is not lost if the disk is full."""
    part = path.with_name(f"{path.name}.part")
    try:
        part.write_text(text, "utf-8")
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise UsageError(f"{path}: cannot be written: {error.strerror}") from error


class _Html(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.id: str | None = None
        self.people: dict[str, str] = {}
        self._place: str | None = None
        self._depth = 0
        self._text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "meta" and given.get("name") == ID_MARK:
            self.id = given.get("content")
        if self._place is None:
            if (place := given.get("data-place")) is not None:
                self._place, self._depth, self._text = place, 1, []
            return
        if tag in _BLOCK and self._text:
            self._text.append("\n")
        if tag not in _VOID:
            self._depth += 1

    def handle_endtag(self, tag: str) -> None:
        if self._place is None or tag in _VOID:
            return
        self._depth -= 1
        if self._depth == 0:
            self.people[self._place] = "".join(self._text)
            self._place = None

    def handle_data(self, data: str) -> None:
        if self._place is not None:
            self._text.append(data)

    def close(self) -> None:
        super().close()
        if self._place is not None:  # an element that was never closed: rather too much than lost
            self.people[self._place] = "".join(self._text)


def _from_html(text: str) -> tuple[str | None, dict[str, str]]:
    parser = _Html()
    parser.feed(text)
    parser.close()
    return parser.id, parser.people


def _from_markdown(text: str) -> tuple[str | None, dict[str, str]]:
    found = _MARKDOWN_ID.search(text)
    people = {m[1]: _unescaped(m[2]) for m in _MARKDOWN_PLACE.finditer(text)}
    return (found[1] if found else None), people


def _unescaped(text: str) -> str:
    return text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")


def _from_json(text: str) -> tuple[str | None, dict[str, str]]:
    try:
        found = json.loads(text)
        people = found.get("people", {})
        return str(found["id"]), {str(k): str(v) for k, v in people.items()}
    except (ValueError, KeyError, AttributeError, TypeError, RecursionError):
        return None, {}


_READERS = {"html": _from_html, "md": _from_markdown, "json": _from_json}
