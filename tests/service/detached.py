"""A rehearsal's desk in a session of its own, for the tests: its configuration, and what its screens hear."""

from __future__ import annotations

import time

import pytest

from interlock.service.config import Config
from interlock.service.place import Place
from interlock.watch.state import Frame, Happened


def config(place: Place, **given: object) -> Config:
    """The configuration of a rehearsal there."""
    return Config(show=str(place.show_path), rehearsal=True, seed=1, **given)  # type: ignore[arg-type]


def until_gone(place: Place, within_s: float = 20.0) -> None:
    """Wait until no desk runs there."""
    ends_s = time.monotonic() + within_s
    while place.running() is not None:
        assert time.monotonic() < ends_s, "a desk runs there still"
        time.sleep(0.1)


async def next_of(kind: type, frames: object) -> Frame:
    """The next frame of that kind, or with a line of that kind."""
    async for frame in frames:  # type: ignore[attr-defined]
        if isinstance(frame, kind) or (isinstance(frame, Happened) and isinstance(frame.line, kind)):
            return frame  # type: ignore[no-any-return]
    pytest.fail(f"the desk ended before a {kind.__name__}")
