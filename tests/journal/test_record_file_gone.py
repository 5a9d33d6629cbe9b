"""The file goes from under the desk, or another stands in its place: it is told, and the record is whole in the end."""

from __future__ import annotations

import shutil
from pathlib import Path

from record_samples import Begin, Health, fill, whole

from interlock.journal import Record


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
    moved = path.with_name("elsewhere")
    path.rename(moved)
    before = moved.read_bytes()
    fill(writer, 30, 10)
    writer.flush(0.2)
    assert writer.flush()
    whole(path, writer.close(), 40)
    assert moved.read_bytes() == before


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
