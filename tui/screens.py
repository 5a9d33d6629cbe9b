"""The screens by name: each is a drawing function over the view and what the model keeps."""

from __future__ import annotations

from dataclasses import dataclass

from interlock.watch.state import Line
from tui.compose import board_places, draw_houses, draw_lower
from tui.draw import banner
from tui.draw.alarms import draw_alarms
from tui.draw.cues import CueKey, draw_cue_sheet, still
from tui.draw.foot import draw_help, help_rows
from tui.draw.line import draw_line
from tui.draw.log import draw_log, furthest
from tui.draw.onehouse import TILE, draw_one_house
from tui.draw.ribbon import draw_ribbon
from tui.draw.rows import columns, id_width
from tui.draw.runs import Block, block_fit, safe
from tui.draw.view import View
from tui.model import Model
from tui.places import Places

NAMES = ("board", "house", "alarms", "cues", "record", "faults", "help")


@dataclass(slots=True)
class Own:
    """What a screen keeps for itself, so that coming back to it finds the place."""

    scroll: int = 0
    fault: int = 0
    lines: tuple[Line, ...] = ()
    """What the record shows, filtered."""
    faults: tuple[str, ...] = ()
    cue: CueKey | None = None
    """The picked line of the cue sheet."""


def draw_screen(name: str, view: View, model: Model, own: Own, width: int, height: int) -> Block:
    """The body of a screen, between the banner and the message."""
    if name == "house":
        return draw_one_house(view, model.drifts, width, height, model.log)
    if name == "alarms":
        return draw_alarms(view, width, height, unfolded=True)
    if name == "cues":
        return draw_cue_sheet(view, width, height, own.cue)
    if name == "record":
        own.scroll = min(own.scroll, furthest(view, own.lines, width, height))
        return draw_log(view, list(own.lines), width, height, own.scroll)
    if name == "faults":
        return _faults(view, own, width, height)
    if name == "help":
        rows = help_rows(width, view.g, rehearsal=view.layout.rehearsal, review=view.review)
        own.scroll = min(own.scroll, max(0, len(rows) - height))
        return draw_help(
            width, height, view.g, rehearsal=view.layout.rehearsal, scroll=own.scroll, review=view.review
        )
    return _board(view, model, width, height, own)


def next_cue(view: View, now: CueKey | None, by: int) -> CueKey | None:
    """The cue ``by`` lines further down the sheet; the ends are ends. None where there is none."""
    keys = [key for key, _ in still(view.state.cues)]
    if not keys or view.lost_s is not None:
        return None
    at = keys.index(now) + by if now in keys else 0
    return keys[max(0, min(len(keys) - 1, at))]


def first_shown(at: Places, picked: int, houses: int, top: int) -> int:
    """The first house of a list too long for its place, moved only as far as the picked one needs it."""
    lines = max(1, at.across * max(1, at.houses - 1))
    if at.tile_height or houses <= lines:
        return 0
    if picked < top:
        return picked
    return min(max(top, picked - lines + 1), max(0, houses - lines))


def places_of_body(view: View, width: int, height: int) -> Places:
    """Where the parts of the board stand, from the size of its body alone."""
    keys = 1 if height + banner.HEIGHT + 2 < 30 else 2
    return board_places(view, width, height + banner.HEIGHT + 1 + keys)


def next_width(view: View, name: str, width: int, height: int) -> int:
    """Cells in which the picked house says what comes next, on the board or on its own screen."""
    if name == "house":
        return TILE - 3
    at = places_of_body(view, width, height)
    if at.tile_height:
        return at.tile_width - 3
    each = (width - 2 * (at.across - 1)) // at.across
    return next((w for c, w in columns(max(0, each - id_width(view) - 1)) if c.name == "next"), width)


def _board(view: View, model: Model, width: int, height: int, own: Own) -> Block:
    g = view.g
    at = places_of_body(view, width, height)
    own.scroll = first_shown(at, view.house, len(view.layout.houses), own.scroll)
    rows: Block = draw_line(view, width, at.depth) if at.line else []
    rows += draw_houses(view, at, own.scroll)
    if at.ribbon:
        rows += draw_ribbon(view, width, at.ribbon)
    return block_fit(rows + draw_lower(view, at, model.drifts), width, height, g)


FAULTS_FROM = 2
"""The row of the first fault."""


def first_fault(own: Own, height: int) -> int:
    """The first fault shown, so that the picked one is seen."""
    room = max(1, height - 3)
    return max(0, min(own.fault - room + 1, len(own.faults) - room))


def _faults(view: View, own: Own, width: int, height: int) -> Block:
    g = view.g
    if not own.faults:
        return block_fit([[("no faults to throw here", "dim")]], width, height, g)
    room = max(1, height - 3)
    first = first_fault(own, height)
    house = safe(view.layout.houses[view.house].house, g) if view.layout.houses else g.unknown
    rows: Block = [
        [(f"Faults for house {house} (another: F2, j k). Here j k pick a fault, f throws it now", "strong")],
        [],
    ]
    for n, words in enumerate(own.faults[first : first + room], first):
        mark = g.pick if n == own.fault else " "
        rows.append([(f"{mark} {safe(words, g)}", "pick" if n == own.fault else "text")])
    below = len(own.faults) - first - room
    if below > 0:
        rows.append([(f"{g.fold} {below} more below", "dim")])
    return block_fit(rows, width, height, g)
