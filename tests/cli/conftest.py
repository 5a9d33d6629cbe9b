"""Fixtures of the commands' tests."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def folder() -> Iterator[Path]:
    """A private folder with a path short enough for a socket's, which pytest's own are not always."""
    with tempfile.TemporaryDirectory(prefix="ll") as name:
        yield Path(name)
