"""Fixtures of the desk process's tests."""

from __future__ import annotations

import os
import signal
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from plain_watch import Watch

from interlock.service.place import Place

ROOT = Path(__file__).parents[2]


@pytest.fixture
def folder() -> Iterator[Path]:
    """A private folder with a path short enough for a socket's, which pytest's own are not always."""
    with tempfile.TemporaryDirectory(prefix="ll") as name:
        yield Path(name)


@pytest.fixture
def place(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Place]:
    """The place of a rehearsal of the two-house show; whatever desk is left there is ended."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    show = folder / "show.toml"
    show.write_text((ROOT / "configs" / "two-house.toml").read_text())
    found = Place(show, rehearsal=True)
    assert found.folder == folder / "longlace"
    yield found
    who = found.running()
    if who is not None:
        os.kill(who.pid, signal.SIGKILL)


@pytest.fixture
def show(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The two-house show with a serial adapter that is not there."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    text = (ROOT / "configs" / "two-house.toml").read_text()
    path = folder / "show.toml"
    path.write_text(text.replace('driver = "simulator"', f'driver = "serial"\nport = "{folder}/not-there"'))
    return path


@pytest.fixture
def watch() -> Iterator[Any]:
    """Starts a plain watch with these words; whatever of them still runs in the end is ended."""
    started: list[Watch] = []

    def start(*args: str) -> Watch:
        started.append(Watch(*args))
        return started[-1]

    yield start
    for w in started:
        if w.process.poll() is None:
            w.process.kill()
        w.process.communicate(timeout=20)
