"""One program writes a record: every other is refused while it does."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from record_samples import META, Begin, Health, fill, whole

from interlock.errors import RecordError, RecordExists
from interlock.journal import JournalWriter, Record


def test_a_second_desk_is_refused_while_the_first_writes(begin: Begin, path: Path) -> None:
    first = begin()
    fill(first, 0, 5)
    assert first.flush()
    with pytest.raises(RecordExists, match="another program is writing it"):
        JournalWriter.resume(path, META.show_source, on_health=Health())
    fill(first, 5, 5)
    assert first.flush()
    whole(path, first.close(), 10)


def test_a_second_process_is_refused_as_well(begin: Begin, path: Path) -> None:
    first = begin()
    assert first.flush()
    code = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1], timeout=0.2, isolation_level=None);"
        "c.execute('BEGIN IMMEDIATE')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=False
    )
    assert "database is locked" in done.stderr
    first.close()


def test_a_file_that_another_program_holds_locked_is_a_clear_error(ended: tuple[Path, str]) -> None:
    path, _ = ended
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(RecordError, match=r"another program"):
        Record.open(path)
    other.close()


def test_the_wal_does_not_grow_with_the_show(begin: Begin, path: Path) -> None:
    """The lock that is held between commits must not keep SQLite from starting its WAL over."""
    journal = begin()
    for n in range(300):
        fill(journal, n * 200, 200)
        assert journal.flush()
    assert Path(f"{path}-wal").stat().st_size < 9 << 20
    assert path.stat().st_size > 1 << 20
    journal.close()
