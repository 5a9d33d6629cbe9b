"""``longlace records``: a record that is being written and one that was cut off are not the same."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from incident_records import cut

from interlock.cli import run
from interlock.commands import records as listing
from interlock.commands.records import Open, conditions, look
from interlock.journal import Record
from interlock.service.place import Lock, Place

Make = Callable[[str], Path]
NOW_S = 1_800_000_000.0


def unended(
    path: str, *, show: str = "/shows/a.toml", written_ago_s: float = 60.0, began: float = 0.0
) -> Open:
    return Open(Path(path), show, False, NOW_S - 3600.0 + began, NOW_S - written_ago_s)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Records and desks' locks of this test alone."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "run"))
    (tmp_path / "run").mkdir(mode=0o700)
    folder = tmp_path / "data" / "longlace" / "records"
    folder.mkdir(parents=True)
    return folder


def kept(recorded: Make, path: Path) -> Path:
    path.write_bytes(recorded("tear").read_bytes())
    cut(path)
    return path


def test_a_desk_that_holds_its_lock_makes_its_record_running_and_its_end_makes_it_cut_off(
    recorded: Make, home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kept(recorded, home / "a.record")
    (home / "b.record").write_bytes(recorded("tear").read_bytes())
    with Record.open(path) as record:
        show, wall_s = record.meta.show_path, record.last_wall_s
    monkeypatch.setattr(listing.SystemClock, "wall_s", lambda _: wall_s + 60.0)
    lock = Lock(Place(show, rehearsal=True))
    lock.take("Lantern Weather")
    try:
        assert run(["records"]) == 0
    finally:
        lock.release()
    rows = {line.split("/")[-1]: line for line in capsys.readouterr().out.splitlines()}
    assert " running " in rows["a.record"]
    assert " ended " in rows["b.record"]
    assert run(["records"]) == 0
    rows = {line.split("/")[-1]: line for line in capsys.readouterr().out.splitlines()}
    assert " cut off " in rows["a.record"]


def test_the_newest_unended_record_of_a_show_is_the_one_that_its_desk_writes(tmp_path: Path) -> None:
    lock = Lock(Place("/shows/a.toml", folder=tmp_path))
    lock.take()
    who = lock.place.running()
    lock.release()
    assert who is not None
    old, new = unended("/r/old.record"), unended("/r/new.record", began=60.0)
    other = unended("/r/other.record", show="/shows/b.toml", began=90.0)
    assert conditions([old, new, other], [who], NOW_S) == {
        old.path: "cut off",
        new.path: "running",
        other.path: "cut off",
    }


def test_a_desk_that_was_told_where_to_write_runs_no_other_record(tmp_path: Path) -> None:
    lock = Lock(Place("/shows/a.toml", folder=tmp_path))
    lock.given = {"journal": "/elsewhere/mine.record"}
    lock.take()
    who = lock.place.running()
    lock.release()
    assert who is not None
    here, mine = unended("/r/here.record"), unended("/elsewhere/mine.record")
    assert conditions([here], [who], NOW_S) == {here.path: "cut off"}
    assert conditions([here, mine], [who], NOW_S)[mine.path] == "running"


def test_what_was_written_a_moment_ago_by_nobody_known_is_not_called_cut_off() -> None:
    fresh = unended("/r/fresh.record", written_ago_s=1.0)
    assert conditions([fresh], [], NOW_S) == {fresh.path: "not ended"}


def test_a_record_that_goes_away_while_it_is_looked_at_is_no_fault(tmp_path: Path) -> None:
    assert look(tmp_path / "gone.record") is None
