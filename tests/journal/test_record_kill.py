"""kill -9 at any moment: what was said to be safe is there, the file is readable and verifies up to its last batch."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from record_samples import META, Health, fill, line, reading

from interlock.journal import JournalWriter, Record

CHILD = Path(__file__).with_name("record_child.py")
ROOT = Path(__file__).parents[2]


def child(how: str, path: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, str(CHILD), how, str(path)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


def kill_after(how: str, path: Path, words: int) -> tuple[list[str], float]:
    """Let it say so many words, kill it at once; what it said, and the monotonic second of the kill."""
    process = child(how, path)
    assert process.stdout is not None
    said = [process.stdout.readline() for _ in range(words)]
    killed_s = time.monotonic()
    process.kill()
    said += process.stdout.readlines()
    process.stdout.close()
    assert process.wait() == -9
    return [word for word in said if word.endswith("\n")], killed_s


def is_all_there(path: Path, at_least: int) -> int:
    with Record.open(path) as record:
        assert record.meta == META
        assert not record.ended
        verdict = record.verify()
        assert verdict.ok, verdict.sentence
        assert "cut off" in verdict.sentence
        got = list(record.inputs())
        assert got == [(n, reading(n)) for n in range(len(got))]
        assert list(record.lines()) == [(n, line(n)) for n in range(len(got)) if n % 10 == 0]
    assert len(got) >= at_least
    return len(got)


def kills(path: Path, chance: random.Random, times: int) -> None:
    """Kill it, look, go on with the same record, and kill it again."""
    for _ in range(times):
        said, _ = kill_after("flushes", path, chance.randint(1, 40))
        is_all_there(path, int(said[-1]))


def finish(path: Path) -> None:
    with Record.open(path) as record:
        total = record.next_input
    writer = JournalWriter.resume(path, META.show_source, on_health=Health())
    fill(writer, total, 10)
    head = writer.close()
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    with Record.open(path) as record:
        verdict = record.verify(head)
        assert verdict.ok, verdict.sentence
        assert verdict.ended
        assert [x for _, x in record.inputs()] == [reading(n) for n in range(total + 10)]


def test_five_killed_records_hold_everything_that_was_said_to_be_safe(tmp_path: Path) -> None:
    chance = random.Random(20261205)
    for n in range(5):
        kills(tmp_path / f"{n}" / "r.record", chance, 1)


def test_a_record_that_is_killed_and_resumed_five_times_is_whole_in_the_end(tmp_path: Path) -> None:
    path = tmp_path / "r" / "r.record"
    kills(path, random.Random(4), 5)
    finish(path)


@pytest.mark.long
def test_two_hundred_kills(tmp_path: Path) -> None:
    chance = random.Random(1)
    for n in range(20):
        path = tmp_path / f"{n}" / "r.record"
        kills(path, chance, 10)
        finish(path)


@pytest.mark.realtime
def test_a_kill_loses_no_more_than_the_last_tenth_of_a_second(tmp_path: Path) -> None:
    """Judged by the inputs' own stamps. 100 ms between commits, and what a commit takes on a loaded machine."""
    lost_s = []
    for n in range(5):
        path = tmp_path / f"{n}" / "r.record"
        _, killed_s = kill_after("free", path, 150 + 37 * n)
        with Record.open(path) as record:
            assert record.verify().ok
            last = max((x.at_s for _, x in record.inputs()), default=0.0)
        lost_s.append(killed_s - last)
    print(f"lost {[round(s * 1_000) for s in lost_s]} ms")
    assert sorted(lost_s)[2] <= 0.13, lost_s
    assert max(lost_s) <= 0.3, lost_s
