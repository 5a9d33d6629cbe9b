"""A rehearsal as fast as it goes keeps nothing for screens that cannot come."""

from __future__ import annotations

from pathlib import Path

from interlock.service.compose import rehearsed
from interlock.service.config import Config
from interlock.service.rehearsal import LEAD_S, FastClock, run_fast
from interlock.service.shows import read_show

SHOW = Path(__file__).parents[2] / "configs" / "two-house.toml"
ENOUGH = 400
"""Lines, after which the test has seen what it came for."""


async def test_no_mailbox_grows_while_nobody_can_look() -> None:
    show = read_show(SHOW)
    clock = FastClock(0.0, show.motor_start_wall_s - LEAD_S)
    desk, rehearsal = rehearsed(show, Config(show=str(SHOW), rehearsal=True, seed=1), clock)
    box = desk.bus.lines.lossless("test")
    seen = most = 0

    async def each() -> None:
        nonlocal seen, most
        seen += len(box.drain())
        most = max([most, *(s.waiting for kind in desk.bus.stats().values() for s in kind)])
        if seen > ENOUGH:
            desk.end("seen enough")

    await run_fast(desk, rehearsal, clock, each)
    assert seen > ENOUGH
    assert most < ENOUGH / 4
