"""The door for text from outside: names, notes, what an adapter says of itself.

Everything that was written by somebody else goes through :func:`clean` once, where it comes in.
What comes out is one line that a terminal shows as what it is: no control or escape characters, none
that turn the direction of writing round or take no room, and no more than a screen can bear. It is
still text, not markup: whoever shows it does so without interpreting it, whoever writes HTML escapes it.
"""

from __future__ import annotations

import re
import shlex
import unicodedata

LIMIT = 200
"""Characters kept where nobody says otherwise."""

_MARKS = 4  # more accents than that on one letter is an attack on the line above, not a language

# Whole sequences go, not just their ESC: "[31m" in a house's name would be noise to whoever reads it.
_SEQUENCES = re.compile(
    "(?:\x1b\\[|\x9b)[0-?]*[ -/]*[@-~]"  # CSI: colours, cursor
    "|(?:\x1b[\\]PX^_]|[\x90\x98\x9d\x9e\x9f])[^\x07\x1b\x80-\x9f]*(?:\x07|\x1b\\\\|\x9c)"  # OSC, DCS: titles
    "|\x1b[ -/]*[0-~]"  # the rest: reset, character sets
)

# control, format (all bidi and zero-width characters are here), surrogate, private, unassigned
_REMOVED = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})
_FILLERS = frozenset("\u115f\u1160\u3164\uffa0\u2800")  # letters by category, blank on the screen


def clean(text: str, limit: int = LIMIT) -> str:
    """``text`` as one safe line of at most ``limit`` characters; cut text ends in ``…``.

    Line ends, tabs and runs of blanks become one blank. May return the empty string. Cleaning what
    is clean changes nothing.
    """
    if text.isascii() and text.isprintable() and "  " not in text:
        return _cut(text.strip(), limit)  # nearly everything: a show has hundreds of names
    kept: list[str] = []
    for char in _SEQUENCES.sub("", text):
        if char.isspace():
            kept.append(" ")
        elif unicodedata.category(char) not in _REMOVED and char not in _FILLERS:
            kept.append(char)
    composed = unicodedata.normalize("NFC", " ".join("".join(kept).split()))
    return _cut(_few_marks(composed).strip(), limit)


def shown(text: object) -> str:
    """A line, or a file's name, as it may go to a terminal: as it is, blanks and all, where it can be printed; else cleaned."""
    words = str(text)
    return words if words.isprintable() else clean(words, 4096)


def as_argument(text: object) -> str:
    """A file's name as it stands in a command that somebody is told to type: quoted where a shell needs it, and cleaned."""
    return shown(shlex.quote(str(text)))


def _few_marks(text: str) -> str:
    kept: list[str] = []
    marks = 0
    for char in text:
        marks = marks + 1 if unicodedata.category(char) in {"Mn", "Me"} else 0
        if marks <= _MARKS:
            kept.append(char)
    return "".join(kept)


def _cut(text: str, limit: int) -> str:
    if len(text) <= limit:
        return text
    return text[: max(0, limit - 1)].rstrip() + "…" if limit > 0 else ""
