"""Records for the tests: begun, ended, and closed whatever happens."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from record_samples import META, Begin, Health, fill

from interlock.errors import RecordError
from interlock.journal import JournalWriter


@pytest.fixture
def health() -> Health:
    return Health()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "records" / "lantern.record"


@pytest.fixture
def blocker(path: Path) -> Path:
    """A file where a record's folder should be: none can be written in it until the file is gone."""
    path.parent.mkdir()
    blocker = path.parent / "folder"
    blocker.write_text("a file where a folder should be")
    return blocker


@pytest.fixture
def begin(path: Path, health: Health) -> Iterator[Begin]:
    """Begin a record; whatever a test leaves open is closed."""
    writers: list[JournalWriter] = []

    def make(at: Path = path) -> JournalWriter:
        writers.append(JournalWriter.create(at, META, on_health=health))
        return writers[-1]

    yield make
    for writer in writers:
        with suppress(RecordError):
            writer.close(0.1)


@pytest.fixture
def ended(begin: Begin, path: Path) -> tuple[Path, str]:
    """A record of five batches with 50 inputs, ended; and its head."""
    writer = begin()
    for n in range(3):
        fill(writer, n * 20, 20 if n < 2 else 10)
        assert writer.flush()
    return path, writer.close()
