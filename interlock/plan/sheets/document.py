"""What a sheet is made of. Text is plain text: whoever writes it out escapes it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

PAGE_MM = 259.0
"""Of what height a picture takes its share: that of the shorter of the two papers, within its margins."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading within the sheet."""

    text: str


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph; ``strong`` for what must not be missed."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """A few big figures: (what, value)."""

    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Checks:
    """Things to be ticked off."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Cautions:
    """What could hurt somebody. A sheet that has them shows them, whatever else there is."""

    items: tuple[str, ...]


ChipKind: TypeAlias = Literal["roller", "stuck", "table", "hazard", "lift", "machine"]


@dataclass(frozen=True, slots=True)
class Chip:
    """One thing that is met on the walk."""

    kind: ChipKind
    text: str


@dataclass(frozen=True, slots=True)
class Walk:
    """What is met on the way, in walk order, each to be ticked off."""

    title: str
    chips: tuple[Chip, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """``sides``: ``<`` or ``>`` for each column. ``beside``: in how many columns its rows stand on paper.

    A row that begins with an empty cell ``""`` under the head ``☐`` is given a box to tick.
    """

    heads: tuple[str, ...]
    sides: str
    rows: tuple[tuple[str, ...], ...]
    beside: int = 1


@dataclass(frozen=True, slots=True)
class Picture:
    """An SVG drawing that is safe as it is, and what it shows in words. ``height_share``: of ``PAGE_MM``."""

    svg: str
    alt: str
    file: str
    height_share: float


Block: TypeAlias = Heading | Para | Facts | Checks | Cautions | Walk | Table | Picture


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet, to stand on one side of paper. ``file``: its name without ending; ``show``: the show's title."""

    file: str
    name: str
    show: str
    when: str
    blocks: tuple[Block, ...] = field(default=())
