"""What every operator action needs: the app it is taken for, a question with yes and no, numbers as people write them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tui.panel import Choice, Question

if TYPE_CHECKING:
    from tui.running import RunningScreen

YES_NO = (Choice("y", "yes"), Choice("n", "no"))


def number(text: str) -> float | None:
    """A number as people write it; None if it is none."""
    try:
        value = float(text.strip().replace("−", "-").replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) < 1e9 else None


class Acting:
    """Actions for one screen."""

    def __init__(self, app: RunningScreen) -> None:
        self.app = app

    def confirm(self, title: str, text: str, action: str, **keys: object) -> None:
        """Ask, and send the action on yes."""

        def done(given: list[str]) -> str | None:
            if given[0] == "y":
                self.app.send(action, **keys)
            return None

        self.app.ask(Question(title, text, done, choices=YES_NO))
