"""What a person cannot have meant, refused before the desk folds it."""

from __future__ import annotations

import math

from interlock.errors import ActionError
from interlock.showfile.show import Show
from interlock.watch.inputs import Action


def refuse_slip(action: Action, show: Show) -> None:
    """Raises :class:`ActionError` for a mark that no film can make: one digit too many would have the house run out."""
    house = next((n for n, h in enumerate(show.houses) if h.id == action.house), None)
    if action.action != "mark" or house is None:
        return  # a house that there is not is the desk's to refuse
    frame, first_fr = action.frame or 0.0, -show.first_picture_at_fr[house]
    if not first_fr <= frame <= show.length_fr:
        raise ActionError(
            f"mark: found frame {frame:.10g}, but in house {action.house} there can be {math.ceil(first_fr)} to {show.length_fr}"
        )
