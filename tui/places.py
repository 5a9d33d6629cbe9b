"""Where everything stands at a size. Pure: the same size and show, the same places, whatever happens in the show."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from tui.draw import banner, ribbon, tile
from tui.draw.alarms import WIDEST
from tui.draw.line import line_fits, line_height

LEAST_ROW = 80
"""Below this width there is one column of houses, however many they are."""
_LEAST_LOWER = 6


@dataclass(frozen=True, slots=True)
class Places:
    """Heights of the parts of the board, from top to bottom, in rows. ``tile_height`` 0: houses as a list.

    ``across``: tiles or columns of the list side by side. ``depth``: of a loop at spill in the line. ``cues_width``:
    cells for the cues beside the alarms, 0 if the next one in the banner must do.
    """

    width: int
    height: int
    banner: int
    line: int
    houses: int
    ribbon: int
    lower: int
    message: int
    keys: int
    tile_height: int
    across: int
    depth: int
    cues_width: int

    @property
    def tile_width(self) -> int:
        """Cells of a tile."""
        return self.width // self.across


@lru_cache(maxsize=64)
def places(width: int, height: int, houses: int, id_width: int = 2) -> Places:
    """The board for ``houses`` houses at ``width`` × ``height``."""
    houses = max(1, houses)
    keys = 1 if height < 30 else 2
    room = max(0, height - banner.HEIGHT - 1 - keys)
    tiled = _tiled(width, room, houses, id_width)
    if tiled is not None:
        line, tile_height, across, depth = tiled
        in_houses = tile_height * -(-houses // across)
        lower = room - line - in_houses - ribbon.HEIGHT
        return _made(width, height, line, in_houses, ribbon.HEIGHT, lower, keys, tile_height, across, depth)
    across = 1
    most = max(1, (width + 2) // (LEAST_ROW + 2))
    while houses > across * max(1, room - _LEAST_LOWER - ribbon.HEIGHT - 1) and across < most:
        across += 1
    wanted = -(-houses // across) + 1
    in_houses = min(wanted, max(2, room - 2))
    left = room - in_houses
    in_ribbon = ribbon.HEIGHT if left >= ribbon.HEIGHT + 4 else 0
    return _made(width, height, 0, in_houses, in_ribbon, left - in_ribbon, keys, 0, across, 0)


def _tiled(width: int, room: int, houses: int, id_width: int) -> tuple[int, int, int, int] | None:
    if not line_fits(houses, id_width, width):
        return None
    across = min(houses, max(1, width // tile.LEAST_WIDTH))
    across = -(-houses // -(-houses // across))  # as even as it goes: 16 houses are 8 and 8, not 9 and 7
    for tile_height in tile.heights(width // across, id_width):
        for depth in (6, 5, 4, 3):
            line = line_height(depth)
            if line + tile_height * -(-houses // across) + ribbon.HEIGHT + _LEAST_LOWER <= room:
                return line, tile_height, across, depth
    return None


def _made(
    width: int, height: int, line: int, in_houses: int, in_ribbon: int, lower: int, keys: int,
    tile_height: int, across: int, depth: int,
) -> Places:  # fmt: skip
    most = max(46, min(78, width - WIDEST - 1))  # what the alarms have no use for
    cues = 0 if lower < 4 or width < 60 else max(26, min(most, width * 2 // 5))
    return Places(
        width, height, banner.HEIGHT, line, in_houses, in_ribbon, max(0, lower), 1, keys, tile_height, across, depth, cues
    )  # fmt: skip
