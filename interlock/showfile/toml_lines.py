"""A TOML text as data, and the line on which each of its keys stands.

The data come from the standard library's parser, which says nothing of lines. The lines come from a
scan of the same text that only tells keys, strings and brackets apart; it may be this simple because
what it scans has been found to be TOML. Keys are paths: ``("house", 3, "motor")`` is the key ``motor``
of the fourth ``[[house]]``.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from dataclasses import dataclass
from typing import TypeAlias

from interlock.errors import Mistake
from interlock.text import clean

Path: TypeAlias = tuple[str | int, ...]

DEEPEST = 40
"""No show file needs more than 5, and the path of a key grows with its depth."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_KEY = re.compile(r"""[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'""")
_DOT = re.compile(r"[ \t]*\.[ \t]*")
_SCALAR = re.compile(
    r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}'
    r"|'''(?:[^']|'{1,2}(?!'))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'"
    r"|[^\s,\]}#\[{\"'][^,\]}#\n]*",  # numbers, dates with a blank in them, true and false
    re.DOTALL,
)


_WHERE = re.compile(r" \(at line ([0-9]+), column [0-9]+\)$| \(at end of document\)$")
_LONG_NUMBER = re.compile("[0-9_]{4000}")
_SETS_A_KEY = re.compile(r"[ \t]*([A-Za-z0-9_-]+)[ \t]*=")
_HINTS = {
    "Invalid value": "this is no value; text, quantities among it, stands in quotes",
    "Cannot overwrite a value": "this key or table is here a second time",
    "Expected newline or end of document after a statement": "the value ends early; is it in quotes?",
    "Unclosed array": "a list is not closed, here or above",
}
_PATIENCE = 3_000_000  # characters to read again: 50 slips in a show of 64 houses, a second or two at most
_DOTS = 1000
_PLACEHOLDER = "= '?'"


@dataclass(frozen=True, slots=True)
class TomlText:
    """What a TOML text holds. ``broken``: lines that could not be read; each has its mistake."""

    data: dict[str, object]
    lines: dict[Path, int]
    mistakes: tuple[Mistake, ...] = ()
    broken: frozenset[int] = frozenset()


def read_toml(text: str) -> TomlText:
    """Read ``text``; a line that is no TOML is set aside, so that one slip hides no other mistake."""
    mistakes: list[Mistake] = []
    broken: set[int] = set()
    rows = text.replace("\r\n", "\n").split("\n")
    for n, row in enumerate(rows, 1):
        if row.count(".") > _DOTS:
            # The standard library's parser needs time and memory with the square of a key's dots.
            return TomlText({}, {}, (Mistake(n, "file", f"found more than {_DOTS} dots in one line"),))
    while True:
        source = "\n".join(rows)
        try:
            data = tomllib.loads(source)
            lines = key_lines(source)
            return TomlText(data, lines, _named(mistakes, lines), frozenset(broken))
        except RecursionError:
            mistakes.append(Mistake(0, "file", "lists or tables stand too deep in each other"))
        except ValueError as e:  # TOMLDecodeError, and int() that refuses thousands of digits
            line, why = _where(str(e), rows)
            row = rows[line - 1] if line else ""
            key = _SETS_A_KEY.match(row)
            if line not in broken:
                mistakes.append(Mistake(line, key[1] if key else "file", why))
            # Only a line that sets one key can be set aside; after anything else the rest is doubtful.
            if key and len(mistakes) * len(text) < _PATIENCE:
                again = line in broken
                rows[line - 1] = "" if again else f"{key[1]} {_PLACEHOLDER}"
                broken.add(line)
                continue
        return TomlText({}, {}, tuple(mistakes), frozenset(broken))


def _named(mistakes: list[Mistake], lines: dict[Path, int]) -> tuple[Mistake, ...]:
    """The same with the whole names of their keys, now that it is known in which table they stand."""
    keys = {line: dotted(path) for path, line in lines.items()}
    return tuple(Mistake(m.line, keys.get(m.line, m.key), m.text) for m in mistakes)


def dotted(path: Path) -> str:
    """A path as a person reads it, without the numbers of entries: the line tells which one it is."""
    return ".".join(clean(part, 40) or "?" for part in path if isinstance(part, str))


def _where(message: str, rows: list[str]) -> tuple[int, str]:
    """The line that the parser's ``message`` speaks of, and what is wrong there."""
    if (m := _WHERE.search(message)) is not None:
        what = message[: m.start()]
        return int(m[1]) if m[1] else len(rows), f"no TOML: {_HINTS.get(what, clean(what))}"
    # Not the parser's own words: a number too long for int(), which knows no lines.
    line = next((n for n, row in enumerate(rows, 1) if _LONG_NUMBER.search(row)), 0)
    return line, "no TOML: a number of thousands of digits"


def key_lines(text: str) -> dict[Path, int]:
    """The line (from 1) of every key, table and array element of a valid TOML text.

    Raises ``RecursionError`` where tables stand deeper in each other than ``DEEPEST``.
    """
    return _Scan(text).lines


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self._starts = [0, *(m.end() for m in re.finditer("\n", text))]
        self._entries: dict[Path, int] = {}  # how many [[…]] of that name so far
        table: Path = ()
        while self._skip(_BLANK) and self.at < len(text):
            table = self._header() if text[self.at] == "[" else self._pair(table)

    def _line(self) -> int:
        return bisect_right(self._starts, self.at)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        """Take what matches here; the rest of the text where nothing does, so that a scan always ends."""
        m = pattern.match(self.text, self.at)
        start, self.at = self.at, m.end() if m else len(self.text)
        return self.text[start : self.at] or " "

    def _keys(self) -> list[str]:
        keys: list[str] = []
        while True:
            key = self._skip(_KEY)
            keys.append(key[1:-1] if key[0] == "'" else _unescape(key) if key[0] == '"' else key)
            if (dot := _DOT.match(self.text, self.at)) is None:
                return keys
            if len(keys) > DEEPEST:
                raise RecursionError
            self.at = dot.end()

    def _header(self) -> Path:
        line, opening = self._line(), 2 if self.text.startswith("[[", self.at) else 1
        self.at += opening
        self._skip(_BLANK)
        path: Path = ()
        *outer, last = self._keys()
        for key in outer:
            path = self._newest((*path, key))
            self.lines.setdefault(path, line)
        path = (*path, last)
        self.lines.setdefault(path, line)
        if opening == 2:
            self._entries[path] = self._entries.get(path, 0) + 1
            path = self._newest(path)
            self.lines[path] = line
        self._skip(_BLANK)
        self.at += opening
        return path

    def _newest(self, path: Path) -> Path:
        return (*path, self._entries[path] - 1) if path in self._entries else path

    def _pair(self, table: Path) -> Path:
        line, path = self._line(), table
        for key in self._keys():
            path = (*path, key)
            self.lines.setdefault(path, line)
        self._skip(_BLANK)
        self.at += 1  # the equals sign
        self._value(path)
        return table

    def _value(self, path: Path) -> None:
        if len(path) > DEEPEST:
            raise RecursionError
        self._skip(_BLANK)
        opening = self.text[self.at : self.at + 1]
        if opening not in {"[", "{"}:
            self._skip(_SCALAR)
            return
        self.at += 1
        closing, i = ("]" if opening == "[" else "}"), 0
        while self._skip(_BLANK) and self.at < len(self.text):
            here = self.text[self.at]
            if here == closing:
                self.at += 1
                return
            if here == ",":
                self.at += 1
            elif opening == "{":
                self._pair(path)
            else:
                self.lines[(*path, i)] = self._line()
                self._value((*path, i))
                i += 1


def _unescape(key: str) -> str:
    return next(iter(tomllib.loads(f"{key}=0")), "") if "\\" in key else key[1:-1]
