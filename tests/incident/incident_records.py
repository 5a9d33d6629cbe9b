"""Records for the tests: rehearsed as fast as it goes, or folded again with people who act."""

from __future__ import annotations

import io
import sqlite3
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import msgspec

from interlock.incident.recorded import show_of
from interlock.journal import JournalWriter, Record
from interlock.service.config import Config
from interlock.service.in_process import rehearse_summed_up
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Input


def rehearse(show: Path, record: Path, *, scenario: Path | None = None, seed: int = 1) -> None:
    """A whole show on simulated machines, with a record."""
    config = Config(
        show=str(show),
        journal=str(record),
        rehearsal=True,
        scenario=str(scenario) if scenario is not None else None,
        seed=seed,
    )
    # What it says for people goes nowhere: a test's output is pytest's.
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        assert rehearse_summed_up(config, lambda _: None) == 0


def folded_again(
    source: Path, target: Path, actions: list[Action], *, ended: bool = True, **meta: str
) -> None:
    """The record at ``source`` with ``actions`` among its inputs, folded by today's desk into a new record.

    ``meta`` takes the place of what the record says of itself (``title``, ``show_source``).
    """
    with Record.open(source) as record:
        about = msgspec.structs.replace(record.meta, **meta)
        show = show_of(about)
        inputs: list[Input] = [x for _, x in record.inputs()]
    inputs = sorted([*inputs, *actions], key=lambda x: x.at_s)
    first = inputs[0]
    assert isinstance(first, Anchor)
    desk = Desk(show, first, rehearsal=about.rehearsal)
    writer = JournalWriter.create(target, about, on_health=lambda _ok, _text: None)
    for x in inputs:
        writer.put(x, desk.step(x))
    writer.close(timeout_s=30.0)
    if not ended:
        cut(target)


def cut(path: Path) -> None:
    """Take the end mark away: what a crash leaves."""
    connection = sqlite3.connect(path)
    with connection:
        connection.execute("DELETE FROM batches WHERE kind = 'end'")
    connection.close()


SMALL = """
[show]
title = "Short enough"
film = "35mm-4p"
fps = 24
motor_start = 2026-12-05T19:25:00Z
timezone = "UTC"
chain = ["a", "b", "c", "d"]
first_picture = "2+00"
[[part]]
name = "One"
kind = "feature"
runtime = "0:00:04"
[[part]]
name = "tail"
kind = "tail"
length = "4 ft"
{houses}
[[link]]
from = "a"
to = "b"
path = "3 ft"
rollers = 2
tight = "2 s"
spill = "2 s"
[[link]]
from = "b"
to = "c"
path = "3 ft"
rollers = 2
tight = "2 s"
spill = "2 s"
[[link]]
from = "c"
to = "d"
path = "3 ft"
rollers = 2
tight = "2 s"
spill = "2 s"
[[adapter]]
name = "all"
driver = "serial"
port = "/dev/null"
[adapter.levels]
0 = "a.run"
1 = "b.run"
2 = "c.run"
{d_run}
[adapter.counters]
0 = {{ signal = "a.frames" }}
1 = {{ signal = "d.frames" }}
"""
DELAYS = {"a": 0.2, "b": 0.55, "c": 0.4, "d": 0.7}
SCATTERS = {"a": 0.05, "b": 0.2, "c": 0.1, "d": 0.15}


def small_show(path: Path, *, d_by_counter: bool = False) -> Path:
    """A show of half a minute in four houses with known start timers."""
    houses = "\n".join(
        f'[[house]]\nid = "{h}"   # house {h}\nstart_delay = "{DELAYS[h]} s"\nstart_scatter = "{SCATTERS[h]} s"\n'
        'ramp = "1 s"\nramp_scatter = "0 s"\n'
        for h in DELAYS
    )
    path.write_text(SMALL.format(houses=houses, d_run="" if d_by_counter else '3 = "d.run"'))
    return path
