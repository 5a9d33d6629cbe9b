"""A rehearsal's desk in a session of its own, for the tests: its configuration, and what its screens hear."""

from __future__ import annotations

import pytest

from interlock.service.config import Config
from interlock.service.place import Place
from interlock.watch.state import Frame, Happened


def config(place: Place, **given: object) -> Config:
    return Config(show=str(place.show_path), rehearsal=True, seed=1, **given)  # type: ignore[arg-type]


async def next_of(kind: type, frames: object) -> Frame:
    async for frame in frames:  # type: ignore[attr-defined]
        if isinstance(frame, kind) or (isinstance(frame, Happened) and isinstance(frame.line, kind)):
            return frame  # type: ignore[no-any-return]
    pytest.fail(f"the desk ended before a {kind.__name__}")
