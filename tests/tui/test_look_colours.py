"""Colours: contrast by WCAG 2's formula [P], and nothing told by hue alone."""

from __future__ import annotations

import itertools
import os

import pytest

from tui.draw.runs import plain
from tui.draw.view import make_view
from tui.example.moments import MOMENTS, one_alarm
from tui.example.show import layout
from tui.look.glyphs import ASCII, FULL, Glyphs, choose
from tui.look.palette import PALETTES, STYLES
from tui.pictures import whole_board

Rgb = tuple[float, float, float]


def rgb(colour: str) -> Rgb:
    r, g, b = (int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5))
    return r, g, b


def linear(c: float) -> float:
    return c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4


def luminance(c: Rgb) -> float:
    r, g, b = map(linear, c)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    """WCAG 2.x contrast ratio [P]."""
    high, low = sorted((luminance(rgb(a)), luminance(rgb(b))), reverse=True)
    return (high + 0.05) / (low + 0.05)


# Machado, Oliveira and Fernandes 2009, severity 1.0, on linear RGB [M].
BLIND = {
    "protan": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritan": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def seen_luminance(colour: str, matrix: tuple[tuple[float, float, float], ...]) -> float:
    lin = [linear(c) for c in rgb(colour)]
    r, g, b = (max(0.0, min(1.0, sum(m * c for m, c in zip(row, lin, strict=True)))) for row in matrix)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def test_the_formula_gives_the_published_extremes() -> None:
    """Black on white is 21:1, a colour on itself 1:1 (WCAG 2 [P])."""
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#D55E00", "#D55E00") == 1.0


@pytest.mark.parametrize("name", PALETTES)
@pytest.mark.parametrize("style", STYLES)
def test_every_pair_of_colours_can_be_read(name: str, style: str) -> None:
    ink = PALETTES[name].inks[style]
    assert contrast(ink.colour, ink.ground) >= (3.0 if style.endswith("-mark") else 4.5)


@pytest.mark.parametrize("name", [n for n in PALETTES if n != "poor"])
def test_the_words_beside_a_coloured_glyph_can_be_read_too(name: str) -> None:
    """Marks carry words (frames left): they are held to the measure of text as well, in every look."""
    for urgency in ("high", "medium", "low"):
        ink = PALETTES[name].inks[f"{urgency}-mark"]
        assert contrast(ink.colour, ink.ground) >= 4.0


@pytest.mark.parametrize("kind", BLIND)
def test_the_three_urgencies_differ_in_brightness_too_for_every_kind_of_colour_blindness(kind: str) -> None:
    fills = [PALETTES["booth"].inks[u].ground for u in ("high", "medium", "low")]
    for a, b in itertools.combinations([seen_luminance(f, BLIND[kind]) for f in fills[:2]], 2):
        assert (max(a, b) + 0.05) / (min(a, b) + 0.05) > 1.3


@pytest.mark.parametrize("g", [FULL, ASCII], ids=["full", "ascii"])
def test_without_any_colour_every_two_moments_are_different_screens(g: Glyphs) -> None:
    lay = layout(6)
    screens = {name: plain(whole_board(lay, make(lay), 80, 24, g)) for name, make in MOMENTS.items()}
    for a, b in itertools.combinations(screens, 2):
        assert screens[a] != screens[b]


@pytest.mark.parametrize("g", [FULL, ASCII], ids=["full", "ascii"])
def test_no_two_glyphs_that_mean_something_are_the_same(g: Glyphs) -> None:
    told = [g.high, g.medium, g.low, g.hollow, g.unknown, g.on, g.off, g.apart, g.pick]
    assert len(set(told)) == len(told)
    point = {g.point, g.flat, g.middle, g.limit_left, g.limit_right, g.broken, g.unknown}
    assert len(point) == 7


def test_an_alarm_says_its_urgency_by_glyph_and_its_matter_by_words() -> None:
    lay = layout(6)
    text = plain(whole_board(lay, one_alarm(lay), 80, 24))
    assert "▲1" in text
    assert "SLACK LOW" in text
    assert "▲18 spill" in text


@pytest.mark.parametrize("name", PALETTES)
def test_without_colour_only_text_and_ground_are_left_and_the_urgencies_differ_by_attributes(
    name: str,
) -> None:
    styles = PALETTES[name].styles(colour=False)
    assert {s.color.name for s in styles.values() if s.color} == {PALETTES[name].inks["text"].colour.lower()}
    told = {
        (s.bold, s.reverse, s.underline)
        for s in (styles["high"], styles["medium"], styles["low"], styles["text"])
    }
    assert len(told) == 4


def test_ascii_is_taken_when_asked_for_and_when_the_console_can_write_nothing_else() -> None:
    class Console:
        encoding = "ascii"

    class Full:
        encoding = "utf-8"

    assert choose({"LONGLACE_ASCII": "1"}, Full()) is ASCII  # type: ignore[arg-type]
    assert choose({}, Console()) is ASCII  # type: ignore[arg-type]
    assert choose({}, Full()) is FULL  # type: ignore[arg-type]
    assert choose({"LONGLACE_ASCII": "0"}, Console()) is FULL  # type: ignore[arg-type]
    assert os.linesep


def test_a_glyph_that_asks_changes_at_most_once_a_second() -> None:
    """Two states a second make one flash a second: under the 3 a second of WCAG 2.3.1 [P] and the 1 of the design."""
    lay = layout(6)
    hollow = [int((n / 100) % 1.0 >= 0.5) for n in range(1000)]
    changes = sum(a != b for a, b in itertools.pairwise(hollow))
    assert changes / 2 / 10.0 <= 1.0
    state = MOMENTS["flood"](lay)
    full, empty = (plain(whole_board_of(lay, state, hollow=h)) for h in (False, True))
    differing = sum(a != b for a, b in zip(full, empty, strict=True))
    assert 0 < differing < 12  # glyphs only, never an area


def whole_board_of(lay, state, *, hollow):  # type: ignore[no-untyped-def]
    from tui.compose import draw_board  # noqa: PLC0415

    return draw_board(make_view(lay, state, hollow=hollow, age_s=0.1), 120, 30)
