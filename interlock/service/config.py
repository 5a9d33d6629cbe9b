"""What a desk is started with, and what it answers: all that its starter and its screens need to know of how it is made."""

from __future__ import annotations

from pathlib import Path

import msgspec


class Config(msgspec.Struct, frozen=True):
    """What a desk is started with. Paths are absolute.

    ``journal``: where the record is kept; None: for a watch where records are kept, for a rehearsal nowhere.
    ``speed``: seconds of show for one of life.
    """

    show: str
    journal: str | None = None
    rehearsal: bool = False
    scenario: str | None = None
    speed: float = 1.0
    seed: int | None = None

    def given(self) -> dict[str, str]:
        """The options that make a desk another one, by name; files by their whole path."""
        paths = {"journal": self.journal, "scenario": self.scenario}
        found = {name: str(Path(path).absolute()) for name, path in paths.items() if path is not None}
        return found if self.seed is None else {**found, "seed": str(self.seed)}


class Ready(msgspec.Struct, frozen=True):
    """What the starter is told: ``error`` None and the desk is ready, or why it is not."""

    error: str | None = None
    exit_code: int = 2
    kind: str = ""
