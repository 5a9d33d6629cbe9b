"""The screens by name: each is a drawing function over the view and what the model keeps."""

from __future__ import annotations

from dataclasses import dataclass

from interlock.watch.state import Line
from tui.compose import board_places, draw_houses, draw_lower
from tui.draw import banner
from tui.draw.alarms import draw_alarms
from tui.draw.cues import draw_cues
from tui.draw.foot import draw_help
from tui.draw.line import draw_line
from tui.draw.log import draw_log
from tui.draw.onehouse import draw_one_house
from tui.draw.ribbon import draw_ribbon
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


def draw_screen(name: str, view: View, model: Model, own: Own, width: int, height: int) -> Block:
    """The body of a screen, between the banner and the message."""
    if name == "house":
        return draw_one_house(view, model.drifts, width, height)
    if name == "alarms":
        return draw_alarms(view, width, height, unfolded=True)
    if name == "cues":
        return draw_cues(view, width, height)
    if name == "record":
        return draw_log(view, list(own.lines), width, height, own.scroll)
    if name == "faults":
        return _faults(view, own, width, height)
    if name == "help":
        return draw_help(
            width, height, view.g, rehearsal=view.layout.rehearsal, scroll=own.scroll, review=view.review
        )
    return _board(view, model, width, height, own)


def first_shown(at: Places, picked: int, houses: int, top: int) -> int:
    """The first house of a list too long for its place, moved only as far as the picked one needs it."""
    lines = max(1, at.across * max(1, at.houses - 1))
    if at.tile_height or houses <= lines:
        return 0
    if picked < top:
        return picked
    return min(max(top, picked - lines + 1), max(0, houses - lines))


def house_at(at: Places, x: int, y: int, houses: int, top: int) -> int | None:
    """The house drawn at cell (x, y) of the board's body; None where there is none."""
    y -= at.line
    if not 0 <= y < at.houses:
        return None
    if at.tile_height:
        k = y // at.tile_height * at.across + min(at.across - 1, x // at.tile_width)
    elif y == 0:
        return None
    else:
        column = min(at.across - 1, x // max(1, at.width // at.across))
        k = top + column * (at.houses - 1) + y - 1
    return k if k < houses else None


def _board(view: View, model: Model, width: int, height: int, own: Own) -> Block:
    g = view.g
    keys = 1 if height + banner.HEIGHT + 2 < 30 else 2
    at = board_places(view, width, height + banner.HEIGHT + 1 + keys)
    own.scroll = first_shown(at, view.house, len(view.layout.houses), own.scroll)
    rows: Block = draw_line(view, width, at.depth) if at.line else []
    rows += draw_houses(view, at, own.scroll)
    if at.ribbon:
        rows += draw_ribbon(view, width, at.ribbon)
    return block_fit(rows + draw_lower(view, at, model.drifts), width, height, g)


def _faults(view: View, own: Own, width: int, height: int) -> Block:
    g = view.g
    if not own.faults:
        return block_fit([[("no faults to throw here", "dim")]], width, height, g)
    first = max(0, min(own.fault - height + 3, len(own.faults) - height + 2))
    rows: Block = [
        [("Throw a fault into the rehearsal: j k pick it, f throws it now; F2 to pick a house", "strong")],
        [],
    ]
    for n, words in enumerate(own.faults[first : first + max(0, height - 2)], first):
        mark = g.pick if n == own.fault else " "
        rows.append([(f"{mark} {safe(words, g)}", "pick" if n == own.fault else "text")])
    return block_fit(rows, width, height, g)
