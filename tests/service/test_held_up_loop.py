"""What a computer that is busy with something else does to the watch: it must judge no silence that was none."""

from __future__ import annotations

import asyncio
import threading
import time
from pathlib import Path

import pytest
from desk_rig import contacts, running

from interlock.clock import SystemClock
from interlock.watch.inputs import Tick
from interlock.watch.state import AdapterLine, AlarmLine


@pytest.mark.realtime
async def test_a_loop_that_was_held_up_hears_its_readers_before_it_judges_their_silence(folder: Path) -> None:
    clock = SystemClock()
    async with running(folder, clock, speaks=False) as (desk, _, journal):
        stop = threading.Event()

        def speak() -> None:
            while not stop.wait(0.05):
                desk.bus.inputs.publish_from_thread(contacts(clock.now_s()))

        reader = threading.Thread(target=speak)
        reader.start()
        await asyncio.sleep(0.3)
        for _ in range(2):
            time.sleep(1.0)  # noqa: ASYNC251 - the loop is held up, which is what this is about
            await asyncio.sleep(0.2)
        stop.set()
        reader.join()
        said = [line for _, lines in journal.puts for line in lines]
        assert [line.state for line in said if isinstance(line, AdapterLine) and not line.periodic] == ["up"]
        assert [line for line in said if isinstance(line, AlarmLine)] == []


@pytest.mark.realtime
async def test_nothing_ticks_when_nothing_is_due(folder: Path) -> None:
    async with running(folder, speaks=False) as (desk, _, journal):
        await asyncio.sleep(1.5)
        ticks = [x for x, _ in journal.puts if isinstance(x, Tick)]
        due = {line.at for _, lines in journal.puts for line in lines}
        assert len(ticks) <= len(due) + 3
        assert desk.folding.folded < 12
