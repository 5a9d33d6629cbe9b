"""The replay driver before a desk: the recorded incident happens again."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "incident"))
from incident_records import rehearse, small_show

from drivers.replay import ReplayDriver
from interlock.clock import VirtualClock
from interlock.errors import NotARecord
from interlock.incident.replay import readings_of
from interlock.journal import Record
from interlock.service.drivers_run import make_drivers
from interlock.showfile.load import load_show, parse_show
from interlock.signals import Reading
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor
from interlock.watch.state import Line, ShowLine


def test_a_recorded_show_runs_again_before_a_desk_of_today(tmp_path: Path) -> None:
    record_path = tmp_path / "s.record"
    rehearse(small_show(tmp_path / "s.toml"), record_path, seed=3)
    source = (
        (tmp_path / "s.toml")
        .read_text()
        .replace('driver = "serial"\nport = "/dev/null"', f'driver = "replay"\nrecord = "{record_path}"')
    )
    show = parse_show(source, "s.toml")
    clock = VirtualClock(0.0)
    ((_, driver),) = make_drivers(show, clock)
    assert isinstance(driver, ReplayDriver)
    with Record.open(record_path) as record:
        first = next(x for _, x in record.inputs())
        then = [x.phase for _, x in record.lines() if isinstance(x, ShowLine)]
        began_s = next(readings_of(record_path)).at_s
    assert isinstance(first, Anchor)
    desk = Desk(show, Anchor(0.0, first.wall_s + began_s - first.at_s), rehearsal=False)
    got: list[Reading] = []

    async def play() -> None:
        task = asyncio.create_task(driver.run(got.append))
        while clock.now_s() < 120.0:
            for _ in range(5):  # it may say several things of one instant
                await asyncio.sleep(0)
            await clock.advance_to(clock.now_s() + 0.05)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)

    asyncio.run(play())
    lines: list[Line] = []
    for x in got:
        lines += desk.step(x)
    now = [x.phase for x in lines if isinstance(x, ShowLine)]
    assert now == then
    assert "running" in now


def test_a_record_that_is_not_there_is_said_before_the_show(tmp_path: Path) -> None:
    path = small_show(tmp_path / "s.toml")
    path.write_text(
        path.read_text().replace(
            'driver = "serial"\nport = "/dev/null"', 'driver = "replay"\nrecord = "nowhere.record"'
        )
    )
    with pytest.raises(NotARecord, match=r"nowhere\.record"):
        make_drivers(load_show(path), VirtualClock())
