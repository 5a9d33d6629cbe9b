"""Disks that are full, locked or limited: the show goes on, it is told, and all is written when it can be."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from record_samples import Begin, Health, fill, reading, whole

from interlock.journal import Record

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
