"""Simulated shows through the asynchronous whole, in virtual time with shuffled wake-ups; hundreds with ``make whole``."""

from __future__ import annotations

import asyncio
import random
import subprocess
import sys
from pathlib import Path

import pytest

from interlock.signals import Contacts, Counts
from tests.campaign.oracle_way import findings_whole
from tests.campaign.virtual_loop import VirtualLoop
from tests.campaign.whole import Whole, run_whole

ROOT = Path(__file__).parents[2]
SMALL = (18, 28)
"""Seeds of shows with few houses."""
KEPT = (9, 24, 81, 217)
"""What failed once: a line unplugged while the mains came back, lines that wait behind each other, a word on its way,
film passed by hand while the adapter was away, and its counts before its contacts when it was back."""


@pytest.mark.parametrize("seed", [*SMALL, *(pytest.param(seed, marks=pytest.mark.long) for seed in KEPT)])
def test_what_the_adapters_said_in_bytes_reaches_the_record_once_and_is_judged_rightly(seed: int) -> None:
    show = run_whole(seed)
    assert list(findings_whole(show)) == []
    assert show.reads > 1000
    assert show.shuffled > 1000


def test_the_same_seed_is_the_same_whole_show_in_another_process() -> None:
    told = subprocess.run(
        [sys.executable, "-c", "from tests.campaign.whole import run_whole; print(run_whole(2).digest())"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert told.stdout.strip() == run_whole(2).digest()


def _small() -> Whole:
    return run_whole(2)


def test_a_reading_lost_or_doubled_on_its_way_to_the_record_is_found() -> None:
    show = _small()
    k = next(n for n, x in enumerate(show.recorded) if isinstance(x, Counts))
    inputs = show.recorded
    show.recorded = [*inputs[:k], *inputs[k + 1 :]]
    assert any("between the bus and the record: 0 instead of 1" in text for text in findings_whole(show))
    show.recorded = [*inputs[: k + 1], inputs[k], *inputs[k + 1 :]]
    assert any("between the bus and the record: 2 instead of 1" in text for text in findings_whole(show))


def test_a_record_that_lacks_a_line_is_found_and_one_whose_replay_says_something_else() -> None:
    show = _small()
    lines, inputs = show.recorded_lines, show.recorded
    show.recorded_lines = lines[:-1]
    assert "the lines in the record are not the events that were said" in list(findings_whole(show))
    show.recorded_lines = lines
    turning = [n for n, x in enumerate(inputs) if isinstance(x, Contacts) and ("2.run", True) in x.values]
    k = turning[len(turning) // 2]
    x = inputs[k]
    assert isinstance(x, Contacts)
    stands = tuple((signal, value and signal != "2.run") for signal, value in x.values)
    show.recorded = [*inputs[:k], Contacts(x.at_s, x.fact_s, x.adapter, stands), *inputs[k + 1 :]]
    assert any(text.startswith("its replay says") for text in findings_whole(show))


def test_ticks_and_counts_that_wrap_are_followed() -> None:
    show = run_whole(51)
    assert show.first_tick + 1000 * show.recorded[-1].at_s > 2**32
    counts = [v for x in show.emitted if isinstance(x, Counts) for v in x.values]
    assert min(frames for _, frames, _ in counts) < 2**32 < max(frames for _, frames, _ in counts)
    assert list(findings_whole(show)) == []


def test_time_is_the_loops_own_and_a_task_keeps_its_order_whatever_is_shuffled() -> None:
    loop = VirtualLoop(random.Random(1))
    heard: list[tuple[str, int]] = []

    async def say(name: str) -> None:
        for n in range(50):
            heard.append((name, n))
            await asyncio.sleep(3600.0 if n % 10 == 0 else 0.0)

    async def both() -> None:
        await asyncio.gather(say("a"), say("b"))

    loop.run_until_complete(both())
    loop.close()
    assert 5 * 3600.0 <= loop.now_s < 5 * 3600.0 + 5.0
    for name in "ab":
        assert [n for who, n in heard if who == name] == list(range(50))
    assert heard != [(name, n) for n in range(50) for name in "ab"]


def test_tasks_that_wait_for_nothing_are_told_of_instead_of_hanging() -> None:
    loop = VirtualLoop(random.Random(1))
    with pytest.raises(RuntimeError, match="nothing is ever going to happen"):
        loop.run_until_complete(loop.create_future())
    loop.close()
