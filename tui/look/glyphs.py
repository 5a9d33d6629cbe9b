"""Two sets of glyphs, each one cell wide: the full one, and one for consoles that have only ASCII."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TextIO


@dataclass(frozen=True, slots=True)
class Glyphs:
    """What is drawn with. Every field is one cell wide, but for ``beats`` (one cell each) and ``shades``."""

    ascii: bool
    high: str
    medium: str
    low: str
    hollow: str
    """In turn with ``high`` while nobody has acknowledged it."""
    unknown: str
    on: str
    off: str
    point: str
    """Where the drift is between its limits."""
    pick: str
    more: str
    """The end of a text that was cut."""
    flat: str
    side: str
    turn_down: str
    turn_up: str
    turn_left: str
    turn_right: str
    broken: str
    apart: str
    limit_left: str
    limit_right: str
    middle: str
    left: str
    """The left edge of a frame, a corner where a fold begins."""
    fold: str
    gate_left: str
    gate_right: str
    reel: str
    dot: str
    minus: str
    beats: str
    arrow: str
    shades: dict[str, str]
    """How a part of the print is drawn on the ribbon, by its kind; ``""`` for every other kind."""


FULL = Glyphs(
    ascii=False, high="■", medium="▲", low="◆", hollow="□", unknown="?", on="●", off="○", point="●", pick="▸",
    more="…", flat="─", side="│", turn_down="╮", turn_up="╭", turn_left="╯", turn_right="╰", broken="╌", apart="×",
    limit_left="├", limit_right="┤", middle="┼", left="┌", fold="└", gate_left="▐", gate_right="▌", reel="◎",
    dot="·", minus="−", beats="▘▝▗▖", arrow="→",
    shades={
        "": "▓", "feature": "█", "trailer": "▒", "policy": "▒", "slide": "▒", "credits": "▒",
        "black": "░", "intermission": "░", "tail": "·",
    },
)  # fmt: skip

ASCII = Glyphs(
    ascii=True, high="#", medium="^", low="+", hollow="=", unknown="?", on="*", off="-", point="@", pick=">",
    more="~", flat="-", side="|", turn_down=".", turn_up=".", turn_left="'", turn_right="'", broken="~", apart="x",
    limit_left="[", limit_right="]", middle="+", left="+", fold="`", gate_left="[", gate_right="]", reel="O",
    dot=".", minus="-", beats="|/-\\", arrow=">",
    shades={
        "": "%", "feature": "#", "trailer": "=", "policy": "=", "slide": "=", "credits": "=",
        "black": "-", "intermission": "-", "tail": ".",
    },
)  # fmt: skip


def _plain_locale(environ: Mapping[str, str]) -> bool:
    """Whether somebody has said that this console is a plain one: ``LC_ALL=C``, or ``LANG=C`` where nothing else is said.

    (Python sets LC_CTYPE to C.UTF-8 itself where it finds C.)
    """
    plain = ("C", "POSIX")
    if environ.get("LC_ALL"):
        return environ["LC_ALL"] in plain
    return environ.get("LANG") in plain and environ.get("LC_CTYPE", "") in ("", *plain, "C.UTF-8")


def choose(environ: Mapping[str, str] | None = None, stream: TextIO | None = None) -> Glyphs:
    """The set for this console: ASCII if ``LONGLACE_ASCII`` or its locale says so, or its encoding cannot write the full one."""
    environ = os.environ if environ is None else environ
    said = environ.get("LONGLACE_ASCII")
    if said is not None:
        return FULL if said in ("", "0", "no") else ASCII
    if _plain_locale(environ):  # Python itself writes UTF-8 there, whatever the console can show
        return ASCII
    encoding = getattr(stream or sys.__stdout__, "encoding", None) or "utf-8"
    try:
        f"{FULL.high}{FULL.beats}{FULL.point}".encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return ASCII
    return FULL
