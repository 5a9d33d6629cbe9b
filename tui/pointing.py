"""What the mouse points at: a house, an alarm, a cue, a fault. Pure: the same drawing functions say which row is whose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tui.compose import charts_height
from tui.draw.alarms import alarm_at
from tui.draw.cues import CueKey, cue_rows, sheet_rows
from tui.draw.view import AlarmKey, View
from tui.places import Places
from tui.screens import FAULTS_FROM, Own, first_fault, places_of_body


@dataclass(frozen=True, slots=True)
class Pointed:
    """At most one of these is there."""

    house: int | None = None
    alarm: AlarmKey | None = None
    cue: CueKey | None = None
    fault: int | None = None


def pointed(screen: str, view: View, own: Own, x: int, y: int, width: int, height: int) -> Pointed:
    """What stands at cell (x, y) of a screen's body of ``width`` x ``height`` cells."""
    if screen == "alarms":
        return Pointed(alarm=alarm_at(view, y, width, height, unfolded=True))
    if screen == "cues":
        return Pointed(cue=_of(sheet_rows(view, width, height, own.cue), y))
    if screen == "faults":
        n = first_fault(own, height) + y - FAULTS_FROM
        return Pointed(fault=n if y >= FAULTS_FROM and n < len(own.faults) and y < height - 1 else None)
    return _on_board(view, own, x, y, width, height) if screen == "board" else Pointed()


def _on_board(view: View, own: Own, x: int, y: int, width: int, height: int) -> Pointed:
    at = places_of_body(view, width, height)
    k = house_at(at, x, y, len(view.layout.houses), own.scroll)
    if k is not None:
        return Pointed(house=k)
    lower = y - at.line - at.houses - at.ribbon
    if not 0 <= lower < at.lower:
        return Pointed()
    if at.cues_width and x >= at.width - at.cues_width:
        return Pointed(cue=_of(cue_rows(view, at.cues_width, at.lower), lower))
    alarms = at.width - at.cues_width - 1 if at.cues_width else at.width
    return Pointed(alarm=alarm_at(view, lower, alarms, at.lower - charts_height(at), unfolded=False))


def _of(rows: Sequence[tuple[object, CueKey | None]], y: int) -> CueKey | None:
    return rows[y][1] if 0 <= y < len(rows) else None


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
