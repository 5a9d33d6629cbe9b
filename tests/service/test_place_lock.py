"""Where a desk's files are, and the lock that says it runs."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from interlock.errors import DeskError, DeskRunning
from interlock.service import place as place_module
from interlock.service.place import Lock, Place, desks, runtime_dir

HOLDER = """
import sys
from pathlib import Path
from interlock.service.place import Lock, Place
lock = Lock(Place(sys.argv[1], folder=Path(sys.argv[2])))
lock.take("held elsewhere")
print("held", flush=True)
sys.stdin.read()
"""


def test_one_show_has_one_place_however_its_path_is_written(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    show = tmp_path / "show.toml"
    show.write_text("")
    (tmp_path / "link.toml").symlink_to(show)
    keys = {
        Place(p, folder=folder).key
        for p in (show, tmp_path / "a" / ".." / "show.toml", tmp_path / "link.toml")
    }
    assert len(keys) == 1
    assert Place(tmp_path / "other.toml", folder=folder).key not in keys


def test_a_rehearsal_never_stands_in_the_way_of_the_show(folder: Path) -> None:
    assert Place("show.toml", folder=folder).key != Place("show.toml", folder=folder, rehearsal=True).key


def test_a_second_desk_of_the_same_show_is_refused_and_told_the_remedy(folder: Path) -> None:
    first = Lock(Place("show.toml", folder=folder))
    first.take("Lantern")
    with pytest.raises(DeskRunning, match="longlace attach"):
        Lock(Place("show.toml", folder=folder)).take()
    Lock(Place("other.toml", folder=folder)).take()
    first.release()
    again = Lock(Place("show.toml", folder=folder))
    again.take()
    again.release()


def test_who_runs_is_known_and_after_the_end_nobody_does(folder: Path) -> None:
    place = Place("show.toml", folder=folder)
    assert place.running() is None
    lock = Lock(place)
    lock.take("Lantern")
    who = place.running()
    assert who is not None
    assert (who.title, who.pid, who.show) == ("Lantern", os.getpid(), str(place.show_path))
    assert [w.title for w in desks(folder)] == ["Lantern"]
    lock.release()
    assert place.running() is None
    assert desks(folder) == []


def test_a_killed_desk_holds_no_lock_although_its_file_is_still_there(folder: Path) -> None:
    place = Place("show.toml", folder=folder)
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, "show.toml", str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert holder.stdout is not None
    assert holder.stdin is not None
    with holder:
        assert holder.stdout.readline() == "held\n"
        who = place.running()
        assert who is not None
        assert who.pid == holder.pid
        with pytest.raises(DeskRunning):
            Lock(place).take()
        holder.kill()
    assert place.lock.exists()
    assert place.running() is None
    lock = Lock(place)
    lock.take("the next one")
    lock.release()


def test_a_lock_whose_file_was_taken_away_is_noticed_and_taken_again(folder: Path) -> None:
    place = Place("show.toml", folder=folder)
    lock = Lock(place)
    lock.take("Lantern")
    place.lock.unlink()
    assert not lock.stands()
    assert place.running() is None
    lock.again()
    assert lock.stands()
    who = place.running()
    assert who is not None
    assert who.title == "Lantern"
    lock.release()


def test_sockets_have_short_paths_and_a_private_folder(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder / ("deep" * 40)))
    monkeypatch.setattr(place_module.tempfile, "gettempdir", lambda: str(folder))
    found = runtime_dir()
    assert found == folder / f"longlace-{os.getuid()}"
    assert found.stat().st_mode & 0o777 == 0o700
    assert len(os.fsencode(Place("x" * 200, folder=found).socket)) <= 103


def test_a_folder_that_others_can_enter_is_not_used(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder / ("deep" * 40)))
    monkeypatch.setattr(place_module.tempfile, "gettempdir", lambda: str(folder))
    theirs = folder / f"longlace-{os.getuid()}"
    theirs.mkdir()
    theirs.chmod(0o777)
    with pytest.raises(DeskError, match="no private folder"):
        runtime_dir()
    theirs.rmdir()
    (folder / "elsewhere").mkdir(mode=0o700)
    theirs.symlink_to(folder / "elsewhere")
    with pytest.raises(DeskError, match="no private folder"):
        runtime_dir()
