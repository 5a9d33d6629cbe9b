"""A frozen, then killed screen costs the show nothing: a real screen on a real terminal that is not drained.

The machines are simulated at the speed of life, in a desk process as ``watch`` has it. A second, healthy
screen dates what it hears; what the desk says carries its own ``at``. The two clocks differ by a constant
in a rehearsal (it has a date of its own), which is the least difference ever seen.
"""

from __future__ import annotations

import asyncio
import os
import signal
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from pty_terminal import Terminal

from interlock.service.config import Config
from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from interlock.service.spawn import start_desk
from interlock.watch.state import Happened, ShowLine

ROOT = Path(__file__).parents[2]
LATE_S = 0.5
"""Not one event may be later than this, on a computer that does other things as well; a desk that waited for
its screen would be late by all of the time for which that is frozen."""


@pytest.fixture
def place(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Place]:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    found = Place(ROOT / "configs" / "six-house.toml", rehearsal=True)
    yield found
    who = found.running()
    if who is not None:
        os.kill(who.pid, signal.SIGKILL)


class Listener:
    """A healthy screen that dates what it hears."""

    def __init__(self, place: Place) -> None:
        self.connection = DeskConnection(place)
        self.heard: list[tuple[float, float, int]] = []
        self.phase = asyncio.Event()

    async def listen(self) -> None:
        async for frame in self.connection.frames():
            if isinstance(frame, Happened):
                now_s = time.monotonic()
                self.heard.append((now_s, datetime.fromisoformat(frame.line.at).timestamp(), frame.line.seq))
                if isinstance(frame.line, ShowLine) and frame.line.phase == "running":
                    self.phase.set()

    def lateness_s(self, since_s: float) -> list[float]:
        """How late each event since then was heard."""
        heard = [(now_s - at_s, now_s) for now_s, at_s, _ in self.heard if now_s >= since_s]
        offset_s = min(d for d, _ in heard)
        return [d - offset_s for d, _ in heard]


async def prove(place: Place, frozen_s: float) -> None:
    config = Config(show=str(place.show_path), rehearsal=True, seed=5, speed=50.0)
    await asyncio.to_thread(start_desk, config, place)
    listener = Listener(place)
    listening = asyncio.create_task(listener.listen())
    terminal = Terminal("attach", str(place.show_path))
    await asyncio.wait_for(listener.phase.wait(), 30)  # in the middle of a run
    listener.connection.send({"action": "speed", "x": 1.0})
    await asyncio.wait_for(terminal.shown.wait(), 30)
    await asyncio.sleep(1.0)
    began_s = time.monotonic()
    terminal.freeze()
    await asyncio.sleep(frozen_s - 2.0)
    stuck = terminal.waiting()
    await asyncio.sleep(2.0)
    assert terminal.waiting() == stuck > 2_000, "the screen still writes: it was never frozen"
    assert terminal.screen.poll() is None
    terminal.kill()
    await asyncio.sleep(1.0)
    late_s = listener.lateness_s(began_s)
    seqs = [seq for _, _, seq in listener.heard]
    listener.connection.end()
    await asyncio.wait_for(listening, 15)
    assert seqs == list(range(seqs[0], seqs[0] + len(seqs))), "a line was lost"
    assert len(late_s) > 10 * frozen_s, "six houses and five links say at least eleven lines a second"
    print(
        f"{len(late_s)} events in {frozen_s:g} s of a frozen screen; the latest came {max(late_s):.3f} s late"
    )
    assert max(late_s) < LATE_S


@pytest.mark.realtime
async def test_a_screen_that_is_not_drained_and_then_killed_makes_no_event_late(place: Place) -> None:
    await prove(place, 8.0)


@pytest.mark.long
async def test_thirty_seconds_of_a_frozen_terminal_make_no_event_late(place: Place) -> None:
    await prove(place, 30.0)
