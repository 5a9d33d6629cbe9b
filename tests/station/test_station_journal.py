"""The station's own journal: numbers are never given twice, what has not arrived is kept, its seconds go on."""

from __future__ import annotations

from pathlib import Path

import pytest
from mqtt_line import FarClock, Line

from interlock.clock import VirtualClock
from interlock.errors import RecordError, StationFileError
from interlock.signals import Contacts, Counts
from interlock.station import journal as module
from interlock.station.file import read_station
from interlock.station.journal import Journal


def _reading(n: float, adapter: str = "north") -> Counts:
    return Counts(n, n, adapter, (("4.frames", n, n),))


def _clock(now_s: float = 100.0) -> FarClock:
    return FarClock(VirtualClock(now_s), 0.0)


def test_what_the_desk_has_is_kept_no_longer_and_numbers_go_on_over_a_restart(tmp_path: Path) -> None:
    first = Journal(tmp_path / "j", _clock())
    assert [first.add(_reading(float(n))) for n in range(1, 6)] == [1, 2, 3, 4, 5]
    assert first.add(_reading(1.0, "south")) == 1
    first.drop("north", 3)
    assert first.begin_life() == 1
    first.close()
    again = Journal(tmp_path / "j", _clock(110.0))
    assert again.name == first.name
    assert (again.first("north"), again.last("north")) == (4, 5)
    assert again.kept("north", 1, 99) == [(4, _reading(4.0)), (5, _reading(5.0))]
    again.drop("north", 10**9)
    assert again.kept("north", 1, 99) == []
    assert again.add(_reading(6.0)) == 6, "although nothing is kept"
    assert again.kept("south", 1, 99) == [(1, _reading(1.0, "south"))]
    assert again.begin_life() == 2
    again.close()


def test_an_empty_journal_that_was_restarted_says_that_nothing_is_kept(tmp_path: Path) -> None:
    first = Journal(tmp_path / "j", _clock())
    first.add(_reading(1.0))
    first.drop("north", 1)
    first.close()
    again = Journal(tmp_path / "j", _clock(110.0))
    assert again.first("north") == again.last("north") + 1 == 2
    again.close()


def test_a_full_journal_gives_up_the_oldest_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_KEPT", 10)
    journal = Journal(tmp_path / "j", _clock())
    for n in range(1, 26):
        journal.add(_reading(float(n)))
    assert journal.first("north") == 16
    assert [n for n, _ in journal.kept("north", 1, 99)] == list(range(16, 26))
    journal.close()


def test_what_was_committed_outlasts_a_loss_of_power(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "j", _clock())
    journal.add(_reading(1.0))
    journal.commit()
    journal.add(_reading(2.0))
    for name in ("j", "j-wal"):
        (tmp_path / f"then-{name}").write_bytes((tmp_path / name).read_bytes())
    then = Journal(tmp_path / "then-j", _clock(110.0))
    assert then.last("north") == 1
    journal.close()
    then.close()


def test_seconds_go_on_by_the_wall_clock_when_the_computer_was_started_anew(tmp_path: Path) -> None:
    desk = VirtualClock(5000.0)
    first = Journal(tmp_path / "j", FarClock(desk, 0.0))
    first.add(_reading(4999.0))
    first.close()
    wall = VirtualClock(
        7.0, wall_s=desk.wall_s() + 60.0
    )  # its monotonic clock began at 0 again, a minute later
    clock = FarClock(wall, 0.0)
    Journal(tmp_path / "j", clock).close()
    assert clock.now_s() == pytest.approx(5060.0)
    after = FarClock(wall, 0.0)
    Journal(tmp_path / "j", after).close()
    assert after.now_s() == pytest.approx(5060.0), "and for the next process of that life too"


def test_a_file_that_is_no_journal_is_refused_with_a_remedy(tmp_path: Path) -> None:
    (tmp_path / "j").write_text("this is no database, and must not be written over " * 50)
    with pytest.raises(RecordError, match=r"cannot be used.*name another"):
        Journal(tmp_path / "j", _clock())
    with pytest.raises(RecordError, match="cannot be used"):
        Journal(tmp_path / "nowhere" / "j", _clock())


async def test_what_the_journal_gave_up_is_counted_as_lost_at_the_desk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_KEPT", 20)
    line = Line(tmp_path)
    await line.run(1.0)
    line.passes = lambda kind: False
    for n in range(100):
        line.count(float(n))
    line.passes = lambda kind: True
    await line.run(3.0)
    line.count(100.0)
    assert sorted(line.frames()) == [float(n) for n in range(80, 101)]
    assert line.talk.telling.lost == 80
    line.close()


async def test_a_desk_takes_up_a_station_whose_journal_was_lost(tmp_path: Path) -> None:
    line = Line(tmp_path)
    await line.run(1.0)
    line.count(40.0)
    line.close()
    line.open("another.journal", ahead_s=-3.0)
    await line.run(0.5)
    said = len(line.said)
    turned_s = line.contact(True)
    line.count(41.0)
    told = [r for r in line.said[said:] if isinstance(r, Contacts)]
    assert told[-1].fact_s == pytest.approx(turned_s, abs=0.001), "by its new clock"
    assert line.frames() == [40.0, 41.0]
    line.close()


GOOD = """
[station]
name = "north"
broker = "192.0.2.10"
user = "north"
password_file = "north.password"

[[adapter]]
name = "north-1"
driver = "serial"
port = "/dev/ttyACM0"
[adapter.levels]
0 = "4.run"
"""


def test_a_station_file_is_read_and_its_names_are_beside_it(tmp_path: Path) -> None:
    (tmp_path / "n.toml").write_text(GOOD)
    station = read_station(tmp_path / "n.toml")
    assert station.options.password_file == str(tmp_path / "north.password")
    assert station.options.tcp_port == 8883
    assert station.journal == tmp_path / "n.journal"
    assert [a.wiring.levels for a in station.adapters] == [{0: "4.run"}]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('name = "north"', 'name = "desk"', ":3: station.name: no station may be called desk"),
        (
            'name = "north"',
            'name = "a/b"',
            ':3: station.name: found "a/b", expected 1 to 32 of letters, digits, - and _',
        ),
        ('user = "north"', 'user = ""', 'station.user: found "", expected text, 1 or more characters'),
        ("broker = ", "port = 70000\nbroker = ", "station.port: found 70000, expected at most 65535"),
        ("broker", "brokr", 'unknown key; did you mean "broker"?'),
        ('user = "north"\n', "", "user and password_file belong together"),
        ('driver = "serial"', 'driver = "simulator"', "expected hardware of this booth's own"),
        ('"north-1"', '"north 1"', "it becomes a topic"),
        ('"4.run"', '"4.rum"', "4.rum"),
        ("[[adapter]]", "[[adaptor]]", 'unknown key; did you mean "adapter"?'),
        ("[station]", "[statoin]", "station: is missing"),
        ("= ", "", "n.toml:"),
    ],
)
def test_mistakes_in_a_station_file_are_told_by_line(tmp_path: Path, old: str, new: str, says: str) -> None:
    (tmp_path / "n.toml").write_text(GOOD.replace(old, new))
    with pytest.raises(StationFileError) as error:
        read_station(tmp_path / "n.toml")
    assert says in str(error.value)
    with pytest.raises(StationFileError, match="cannot be read"):
        read_station(tmp_path / "none.toml")
