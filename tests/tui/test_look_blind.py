"""What a colour-blind person sees: no two states of anything differ by hue alone, in every look; and the browser's colours.

Each state of a house, a loop and an alarm is drawn, its colours go through the simulation (Machado et al. 2009 [M]; and no
hue at all: luminance alone), and every two must still differ by a sign, a word, an attribute or by brightness.
"""

from __future__ import annotations

import itertools
import re

import msgspec
import pytest
from test_look_colours import BLIND, contrast, linear, rgb

from interlock.service.web import page
from interlock.watch.state import AlarmLine, State
from tui.draw.alarms import draw_alarms
from tui.draw.line import draw_line
from tui.draw.rows import draw_rows
from tui.draw.runs import Block
from tui.draw.tile import draw_tile
from tui.draw.view import make_view
from tui.example.moments import flood, well
from tui.example.show import layout, link_line
from tui.look.glyphs import ASCII, FULL, Glyphs
from tui.look.palette import PALETTES

LAY = layout(3)
TOLD_APART = 1.5
"""Ratio of brightness from which on two areas are told apart at a glance; WCAG asks 3 of a mark against its ground [P]."""
GREY = ((0.2126, 0.7152, 0.0722),) * 3
KINDS = {**BLIND, "no hue at all": GREY}


def alarmed(priority: str, phase: str, subject: str = "2", code: str = "lamp-out") -> State:
    """One alarm, in this state."""
    a: AlarmLine = msgspec.structs.replace(
        flood(layout(6)).alarms[0], priority=priority, state=phase, subject=subject, code=code, group=None,
        active=phase in ("unacknowledged", "acknowledged"),
    )  # fmt: skip
    return msgspec.structs.replace(well(LAY), alarms=(a,))


PHASES = ("unacknowledged", "acknowledged", "returned-unacknowledged", "shelved")
HOUSES: dict[str, State] = {
    "well": well(LAY),
    **{f"{p} {s}": alarmed(p, s) for p in ("high", "medium", "low") for s in ("unacknowledged", "acknowledged")},
    "not known": msgspec.structs.replace(
        well(LAY), houses=tuple(msgspec.structs.replace(h, run=None, lamp=None, frame=None) for h in well(LAY).houses)
    ),
    "stopped": msgspec.structs.replace(
        well(LAY), houses=tuple(msgspec.structs.replace(h, run=False) for h in well(LAY).houses)
    ),
}  # fmt: skip
LOOPS: dict[str, State] = {
    "well": well(LAY),
    **{
        f"{p} {s}": alarmed(p, s, LAY.links[0].link, "slack-low")
        for p in ("high", "medium", "low") for s in ("unacknowledged", "acknowledged")
        if s == "unacknowledged"  # an acknowledged one is told apart in the list of alarms
    },
    "not known": msgspec.structs.replace(
        well(LAY), links=(link_line(LAY, 0, None, 1505.0, "", 1), *well(LAY).links[1:])
    ),
    "parted": msgspec.structs.replace(
        well(LAY), links=(msgspec.structs.replace(well(LAY).links[0], state="parted", drift_fr=None), *well(LAY).links[1:])
    ),
}  # fmt: skip
ALARMS = {f"{p} {s}": alarmed(p, s) for p in ("high", "medium", "low") for s in PHASES}
Cell = tuple[str, float, float, bool, bool]


def luminance_seen(colour: str, kind: str) -> float:
    """Relative luminance of a colour as that eye sees it."""
    lin = [linear(c) for c in rgb(colour)]
    r, g, b = (max(0.0, min(1.0, sum(m * c for m, c in zip(row, lin, strict=True)))) for row in KINDS[kind])
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def seen(block: Block, look: str, kind: str) -> list[Cell]:
    """Every cell: sign, brightness of sign and ground, bold, underlined."""
    cells: list[Cell] = []
    for row in block:
        for text, style in row:
            ink = PALETTES[look].inks[style]
            colour, ground = (ink.ground, ink.colour) if ink.reverse else (ink.colour, ink.ground)
            one = (luminance_seen(colour, kind), luminance_seen(ground, kind), ink.bold, ink.underline)
            cells += [(char, *one) for char in text]
    return cells


def told_apart(a: Cell, b: Cell) -> bool:
    """Whether two cells differ by anything but hue."""

    def ratio(x: float, y: float) -> float:
        return (max(x, y) + 0.05) / (min(x, y) + 0.05)

    ink = a[0].strip() != "" and (ratio(a[1], b[1]) >= TOLD_APART or a[3:] != b[3:])
    return a[0] != b[0] or ratio(a[2], b[2]) >= TOLD_APART or ink


DRAWN = {
    "tile": (HOUSES, lambda v: draw_tile(v, 1, 28, 10)),
    "row": (HOUSES, lambda v: draw_rows(v, 80, 4)),
    "loop": (LOOPS, lambda v: draw_rows(v, 80, 4)),
    "line": (LOOPS, lambda v: draw_line(v, 80)),
    "alarm": (ALARMS, lambda v: draw_alarms(v, 78, 3)),
}


@pytest.mark.parametrize("part", DRAWN)
@pytest.mark.parametrize("look", PALETTES)
@pytest.mark.parametrize("kind", KINDS)
def test_no_two_states_differ_by_hue_alone(part: str, look: str, kind: str) -> None:
    g: Glyphs = ASCII if look == "poor" else FULL
    states, draw = DRAWN[part]
    cells = {n: seen(draw(make_view(LAY, s, g=g, age_s=0.1, house=0)), look, kind) for n, s in states.items()}
    for a, b in itertools.combinations(cells, 2):
        assert any(told_apart(x, y) for x, y in zip(cells[a], cells[b], strict=True)), f"{a} looks like {b}"


def test_the_measure_finds_two_states_that_hue_alone_tells_apart() -> None:
    """Red and green of one brightness, for an eye without hue: the check that all the others rest on."""
    red, green = (
        ("●", luminance_seen("#C00000", "no hue at all"), 0.0),
        ("●", luminance_seen("#006E00", "no hue at all"), 0.0),
    )
    assert not told_apart((*red, False, False), (*green, False, False))
    assert told_apart((*red, False, False), (*green, True, True)) is True


def css() -> dict[str, dict[str, str]]:
    """The rules of the browser's page that name colours."""
    found: dict[str, dict[str, str]] = {}
    style = re.findall(r"<style>(.*?)</style>", page()[0], re.DOTALL)[0]
    for names, body in re.findall(r"([^{}]+)\{([^{}]*)\}", style):
        colours = dict(re.findall(r"(?:^|[ ;])(color|background|border-color): ?(#[0-9A-Fa-f]{3,6})", body))
        for name in names.split(","):
            found.setdefault(name.strip(), {}).update({k: long(v) for k, v in colours.items()})
    return found


def long(colour: str) -> str:
    return colour if len(colour) == 7 else "#" + "".join(c * 2 for c in colour[1:])


def test_every_pair_of_colours_of_the_browser_s_page_can_be_read() -> None:
    rules = css()
    ground = rules["body"]["background"]
    assert {".dim", ".strong", ".high", ".medium", ".low", ".high-mark", "footer", "h3"} <= set(rules)
    for name, rule in rules.items():
        if "color" in rule:
            assert contrast(rule["color"], rule.get("background", ground)) >= 4.5, name
        if "border-color" in rule:
            assert contrast(rule["border-color"], ground) >= 3.0, name


@pytest.mark.parametrize("look", PALETTES)
def test_in_every_look_the_urgencies_that_ask_are_told_apart_by_brightness_or_by_attribute(look: str) -> None:
    """Besides glyph and word: high from medium at a glance, for every kind of eye."""
    high, medium = (PALETTES[look].inks[u] for u in ("high", "medium"))
    for kind in KINDS:
        a, b = sorted((luminance_seen(high.ground, kind), luminance_seen(medium.ground, kind)))
        different = (high.reverse, high.underline) != (medium.reverse, medium.underline)
        assert different or (b + 0.05) / (a + 0.05) > 1.25, (kind, (b + 0.05) / (a + 0.05))
