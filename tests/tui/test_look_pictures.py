"""The colours that truly reach the screen, lines of text and panels included: every pair on every kept picture can be read."""

from __future__ import annotations

import re
from collections import defaultdict

from snapshot_cases import SNAPSHOTS
from test_look_colours import contrast

_GROUND = re.compile(r'<rect width="100%" height="100%" fill="(#\w{6})"')
_RUN = re.compile(r'(?:<rect [^>]*fill="(#\w{6})"/>)?<text [^>]*?fill="(#\w{6})"[^>]*>([^<]*)</text>')


def pairs() -> dict[tuple[str, str], set[str]]:
    """(colour, ground) of every run of letters: one picture that has it."""
    found: dict[tuple[str, str], set[str]] = defaultdict(set)
    for path in sorted(SNAPSHOTS.glob("*.svg")):
        ground = ""
        for line in path.read_text(encoding="utf-8").split("\n"):
            whole = _GROUND.search(line)
            if whole:
                ground = whole[1]
                continue
            for behind, colour, text in _RUN.findall(line):
                if any(c.isalnum() for c in text):
                    found[colour.lower(), (behind or ground).lower()].add(path.name)
    return found


def test_every_pair_of_colours_on_every_picture_can_be_read() -> None:
    """WCAG 2 [P]: 4.5 for text."""
    found = pairs()
    assert len(found) >= 24, "four looks have more pairs than that"
    poor = {
        f"{a} on {b}: {contrast(a, b):.2f} in {min(names)}"
        for (a, b), names in found.items()
        if contrast(a, b) < 4.5
    }
    assert not poor, "\n".join(sorted(poor))
