"""Disks fail. The show goes on, the failure is told, nothing written before is lost, and all is written when it can be."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from record_samples import META, Begin, Health, fill, line, reading

from interlock.errors import RecordError, RecordExists
from interlock.journal import JournalWriter, Record, backlog, writer
from interlock.journal.store import Store

CHILD = Path(__file__).with_name("record_child.py")
ROOT = Path(__file__).parents[2]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 1 MiB of its own. Only root can have one; the test with a limit on file sizes runs for everybody."""
    folder = tmp_path / "disk"
    folder.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip(f"no file system can be mounted here: {made.stderr.decode().strip()}")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


def fill_up(folder: Path) -> Path:
    """Leave not one byte free."""
    ballast = folder / "ballast"
    size = 1 << 16
    with ballast.open("ab", buffering=0) as file:
        while size:
            try:
                if file.write(b"x" * size) < size:
                    size //= 2
            except OSError:
                size //= 2
    return ballast


def whole(path: Path, head: str, count: int) -> None:
    with Record.open(path) as record:
        verdict = record.verify(head)
        assert verdict.ok, verdict.sentence
        assert list(record.inputs()) == [(n, reading(n)) for n in range(count)]
        assert list(record.lines()) == [(n, line(n)) for n in range(count) if n % 10 == 0]


def test_a_full_disk_is_told_once_and_everything_is_written_in_order_when_there_is_room(
    small_disk: Path, begin: Begin, health: Health
) -> None:
    path = small_disk / "r.record"
    writer = begin(path)
    fill(writer, 0, 30)
    assert writer.flush()
    ballast = fill_up(small_disk)
    total = 30
    for _ in range(40):  # the WAL may have a little room of its own
        fill(writer, total, 500)
        total += 500
        if not writer.flush(0.3):
            break
    stats = writer.stats()
    assert stats.failing
    assert stats.rows_waiting > 0
    assert stats.lost == 0
    with Record.open(path) as record:
        assert record.verify().ok
        assert len(list(record.inputs())) == stats.rows_written >= 30
    fill(writer, total, 40)
    total += 40
    ballast.unlink()
    assert writer.flush()
    head = writer.close()
    whole(path, head, total)
    assert [ok for ok, _ in health.told] == [False, True]
    assert health.told[0][1].startswith(f"{path}: the disk is full")
    assert "everything that waited is on the disk" in health.told[1][1]


def test_a_disk_that_is_full_from_the_beginning_gets_the_record_later(
    small_disk: Path, begin: Begin, health: Health
) -> None:
    ballast = fill_up(small_disk)
    path = small_disk / "r.record"
    writer = begin(path)
    fill(writer, 0, 20)
    assert not writer.flush(0.3)
    assert not path.exists(), "an empty file would be in the way"
    ballast.unlink()
    assert writer.flush()
    whole(path, writer.close(), 20)
    assert [ok for ok, _ in health.told] == [False, True]


def test_a_read_only_folder_is_told_and_the_record_begins_when_it_can_be_written(
    small_disk: Path, begin: Begin, health: Health
) -> None:
    """Root may write where permissions forbid it: so the whole file system is made read-only."""
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    path = small_disk / "records" / "r.record"
    writer = begin(path)
    fill(writer, 0, 20)
    assert not writer.flush(0.3)
    assert "Read-only file system" in health.told[0][1]
    subprocess.run(["mount", "-o", "remount,rw", str(small_disk)], check=True)
    assert writer.flush()
    whole(path, writer.close(), 20)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere; the test above is root's")
def test_a_folder_that_may_not_be_written_is_told(tmp_path: Path, begin: Begin, health: Health) -> None:
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o555)
    writer = begin(folder / "r.record")
    fill(writer, 0, 20)
    assert not writer.flush(0.3)
    assert "Permission denied" in health.told[0][1]
    folder.chmod(0o755)
    assert writer.flush()
    whole(folder / "r.record", writer.close(), 20)


def test_a_read_only_disk_can_be_read_from_ended_or_cut_off(small_disk: Path, begin: Begin) -> None:
    """SQLite reads a WAL only where it may write beside it; a cut-off record on a locked stick must be readable all the same."""
    ended, cut = small_disk / "ended.record", small_disk / "cut.record"
    one = begin(ended)
    fill(one, 0, 10)
    one.close()
    two = begin(small_disk / "live.record")
    fill(two, 0, 10)
    assert two.flush()
    shutil.copy(two.path, cut)
    shutil.copy(f"{two.path}-wal", f"{cut}-wal")
    two.close()
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    for path in (ended, cut):
        with Record.open(path) as record:
            assert len(list(record.inputs())) == 10
            assert record.verify().ok


def test_a_limit_on_the_size_of_files_in_a_process_of_its_own(tmp_path: Path) -> None:
    """A disk that takes no more, real and for everybody: SQLite is told EFBIG by the system."""
    path = tmp_path / "r.record"
    done = subprocess.run(
        [sys.executable, str(CHILD), "limited", str(path)],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    saw = json.loads(done.stdout)
    assert saw["failing"]
    assert saw["safe"] > 0
    assert saw["readable"] == saw["safe"]
    assert saw["recovered"]
    told = [ok for ok, _ in saw["told"]]
    # More than once, because a WAL that may not grow is emptied into the main file, until that may not grow either.
    assert told == [False, True] * (len(told) // 2)
    assert told
    with Record.open(path) as record:
        assert record.verify(saw["head"]).ok
        assert [x for _, x in record.inputs()] == [reading(n) for n in range(saw["total"])]


def test_a_file_deleted_under_the_desk_is_written_anew_whole(
    begin: Begin, path: Path, health: Health
) -> None:
    """An unlinked file can be written for hours without one error: it is noticed at the next commit."""
    writer = begin()
    fill(writer, 0, 30)
    assert writer.flush()
    for each in path.parent.iterdir():
        each.unlink()
    fill(writer, 30, 10)
    writer.flush(0.2)
    fill(writer, 40, 10)
    assert writer.flush()
    whole(path, writer.close(), 50)
    assert [ok for ok, _ in health.told] == [False, True]
    assert "the file is gone" in health.told[0][1]
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_a_folder_that_goes_and_comes_back_costs_nothing(begin: Begin, path: Path, health: Health) -> None:
    writer = begin()
    fill(writer, 0, 30)
    assert writer.flush()
    shutil.rmtree(path.parent)
    fill(writer, 30, 10)
    assert not writer.flush(0.3)
    assert not path.parent.exists(), "a folder that was a mounted disk must not be made on the disk beneath"
    path.parent.mkdir()
    fill(writer, 40, 10)
    assert writer.flush()
    whole(path, writer.close(), 50)


def test_a_file_that_was_moved_away_is_left_alone_and_the_record_is_whole_at_its_place(
    begin: Begin, path: Path
) -> None:
    writer = begin()
    fill(writer, 0, 30)
    assert writer.flush()
    path.rename(path.with_name("elsewhere"))
    fill(writer, 30, 10)
    writer.flush(0.2)
    assert writer.flush()
    whole(path, writer.close(), 40)


def test_another_file_in_its_place_is_not_touched(begin: Begin, path: Path, health: Health) -> None:
    writer = begin()
    fill(writer, 0, 30)
    assert writer.flush()
    other = path.with_name("notes")
    other.write_text("somebody's notes")
    other.replace(path)  # in one step: the writer looks at any moment
    fill(writer, 30, 10)
    assert not writer.flush(0.3)
    assert path.read_text() == "somebody's notes"
    assert "another file stands in its place" in writer.stats().text
    path.unlink()
    assert writer.flush()
    whole(path, writer.close(), 40)


def test_the_same_record_under_another_inode_is_taken_up_again(begin: Begin, path: Path) -> None:
    """A stick that is unplugged and plugged in again: the file is there, the open one is dead."""
    writer = begin()
    fill(writer, 0, 30)
    assert writer.flush()
    copy = path.with_name("copy")
    with Record.open(path) as record:
        record._connection.execute("VACUUM INTO ?", (str(copy),))
    for each in (path, Path(f"{path}-wal"), Path(f"{path}-shm")):
        each.unlink()
    copy.rename(path)
    fill(writer, 30, 10)
    writer.flush(0.2)
    assert writer.flush()
    whole(path, writer.close(), 40)


def test_pauses_between_attempts_grow_and_a_flush_does_not_wait_for_them(
    begin: Begin, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "INTERVAL_S", 0.002)
    tries = []

    def write(self: backlog.Backlog) -> None:
        tries.append(self)
        raise OSError(5, "Input/output error")

    right = backlog.Backlog.write
    monkeypatch.setattr(backlog.Backlog, "write", write)
    journal = begin()
    fill(journal, 0, 5)
    pauses = []
    with journal._wake:
        assert not journal._wake.wait_for(lambda: pauses.append(journal._pauses) or False, 0.5)  # type: ignore[func-returns-value]
    assert not journal.flush(0.2)
    assert journal._pauses == writer.LONGEST_PAUSE
    assert 7 <= len(tries) <= 20, "0.7 s of 2 ms cycles: a try a cycle would be hundreds"
    monkeypatch.setattr(backlog.Backlog, "write", right)
    assert journal.flush()
    whole(path, journal.close(), 5)


def test_a_fault_of_the_programs_own_does_not_end_the_record(
    begin: Begin, path: Path, health: Health, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = begin()
    assert journal.flush()
    with monkeypatch.context() as patch:
        patch.setattr(Store, "write", lambda *_: 1 / 0)
        fill(journal, 0, 5)
        assert not journal.flush(0.3)
        assert "ZeroDivisionError" in health.told[0][1]
    assert journal.flush()
    whole(path, journal.close(), 5)


def test_a_commit_that_reported_an_error_but_reached_the_disk_is_not_written_twice(
    begin: Begin, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = begin()
    assert journal.flush()
    right = Store.write

    def reports_wrongly(self: Store, batches: object) -> None:
        right(self, batches)  # type: ignore[arg-type]
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(Store, "write", reports_wrongly)
        fill(journal, 0, 5)
        assert not journal.flush(0.2)
    fill(journal, 5, 5)
    assert journal.flush()
    whole(path, journal.close(), 10)


def test_with_memory_full_the_oldest_are_kept_and_the_gap_stands_in_the_record(
    begin: Begin, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "MOST_WAITING", 40)
    monkeypatch.setattr(writer, "MOST_SEALED_BYTES", 1_200)
    path.parent.mkdir()
    blocker = path.parent / "folder"
    blocker.write_text("a file where a folder should be")
    at = blocker / "r.record"
    journal = begin(at)
    fill(journal, 0, 30)
    assert not journal.flush(0.1)  # sealed, over the bound of bytes
    fill(journal, 30, 40)
    assert not journal.flush(0.1)
    fill(journal, 70, 25)  # no room for any of these
    assert journal.stats().lost == 25
    blocker.unlink()
    assert journal.flush()
    fill(journal, 95, 5)
    head = journal.close()
    with Record.open(at) as record:
        got = list(record.inputs())
        assert got == [(n, reading(n)) for n in [*range(70), *range(95, 100)]]
        assert record.next_input == 100
        verdict = record.verify(head)
        assert not verdict.ok
        assert verdict.lost == 25
        assert "25 inputs before number 95 were never written: memory was full" in verdict.sentence


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
