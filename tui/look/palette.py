"""Colours. Grey when all is well; hue only for what is not, and never hue alone.

A *style* is a word (``text``, ``dim``, ``high``, …) that the drawing functions use; a palette turns it
into colours and attributes. Filled styles are for what calls a person, ``-mark`` ones for a glyph or a point in that
colour on the ground. Without colour the three urgencies differ by attributes, besides glyph and word.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from rich.style import Style

StyleName: TypeAlias = Literal[
    "text", "dim", "strong", "pick", "plain-fill",
    "high", "medium", "low", "high-mark", "medium-mark", "low-mark",
]  # fmt: skip
STYLES: tuple[StyleName, ...] = (
    "text", "dim", "strong", "pick", "plain-fill",
    "high", "medium", "low", "high-mark", "medium-mark", "low-mark",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ink:
    """Colour on ground (``#RRGGBB``) and attributes."""

    colour: str
    ground: str
    bold: bool = False
    reverse: bool = False
    underline: bool = False


@dataclass(frozen=True, slots=True)
class Palette:
    """One look. ``ground``: of the whole screen."""

    name: str
    title: str
    dark: bool
    ground: str
    inks: dict[str, Ink]

    def styles(self, colour: bool) -> dict[str, Style]:
        """Rich styles by name; ``colour=False`` (NO_COLOR) keeps only text and ground, and tells by attributes."""
        return {name: _style(self._ink(name, colour)) for name in STYLES}

    def _ink(self, name: str, colour: bool) -> Ink:
        if colour:
            return self.inks[name]
        return Ink(self.inks["text"].colour, self.ground, **_ATTRIBUTES[name])


def _style(ink: Ink) -> Style:
    return Style(
        color=ink.colour, bgcolor=ink.ground, bold=ink.bold, reverse=ink.reverse, underline=ink.underline
    )


_ATTRIBUTES: dict[str, dict[str, bool]] = {
    "text": {},
    "dim": {},
    "strong": {"bold": True},
    "pick": {"bold": True, "underline": True},
    "plain-fill": {"reverse": True},
    "high": {"reverse": True, "bold": True},
    "medium": {"reverse": True, "underline": True},
    "low": {"underline": True},
    "high-mark": {"bold": True, "underline": True},
    "medium-mark": {"bold": True, "underline": True},
    "low-mark": {"bold": True},
}
"""How the styles differ where there are no colours: what asks is filled or underlined, what somebody has taken is not filled."""


def _palette(
    name: str, title: str, dark: bool, ground: str, text: str, dim: str, strong: str,
    fill: tuple[str, str, str], fill_text: tuple[str, str, str], mark: tuple[str, str, str], pick: str, pick_text: str,
) -> Palette:  # fmt: skip
    inks = {
        "text": Ink(text, ground),
        "dim": Ink(dim, ground),
        "strong": Ink(strong, ground, bold=True),
        "pick": Ink(pick_text, pick, bold=True),
        "plain-fill": Ink(ground, text, bold=True),
    }
    for n, urgency in enumerate(("high", "medium", "low")):
        inks[urgency] = Ink(fill_text[n], fill[n], bold=True)
        inks[f"{urgency}-mark"] = Ink(mark[n], ground, bold=True)
    return Palette(name, title, dark, ground, inks)


_BLACK3 = ("#000000", "#000000", "#000000")
_OKABE_ITO = ("#D55E00", "#E69F00", "#56B4E9")
_DIMMER = ("#C25600", "#C08600", "#4A9BC8")

DARK = _palette(
    "booth", "dark booth", True, "#101010", "#B0B0B0", "#8A8A8A", "#E4E4E4",
    _OKABE_ITO, _BLACK3, _OKABE_ITO, "#3A3A3A", "#E4E4E4",
)  # fmt: skip
DIMMER = _palette(
    "dimmer", "dimmer still", True, "#000000", "#8A8A8A", "#767676", "#A8A8A8",
    _DIMMER, _BLACK3, _DIMMER, "#242424", "#A8A8A8",
)  # fmt: skip
LIGHT = _palette(
    "light", "light, for paper-bright rooms", False, "#F4F3EE", "#242424", "#5C5C5C", "#000000",
    ("#A33B00", "#E69F00", "#56B4E9"), ("#FFFFFF", "#000000", "#000000"), ("#A33B00", "#8A5A00", "#0A6390"),
    "#D2D0C8", "#000000",
)  # fmt: skip
POOR = Palette(
    "poor", "poor console", True, "#000000",
    {name: Ink("#FFFFFF", "#000000", **attributes) for name, attributes in _ATTRIBUTES.items()},
)  # fmt: skip

PALETTES: dict[str, Palette] = {p.name: p for p in (DARK, DIMMER, LIGHT, POOR)}
ORDER: tuple[str, ...] = tuple(PALETTES)
