"""Desk, broker and far booth on computers of their own, and what a bad network between them does.

The network is real TCP between network namespaces, with TLS, passwords and the ACL of the docs.
Packets are lost, late or swallowed on the way.
"""

from __future__ import annotations

import asyncio
import os
import signal
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest
from doc_broker import needs_tools
from mqtt_bench import needs_mosquitto
from namespaces import why_not
from station_world import world

from interlock.signals import Contacts, Counts

_WHY = why_not()
pytestmark = [
    pytest.mark.realtime,
    pytest.mark.long,
    needs_mosquitto,
    needs_tools,
    pytest.mark.skipif(bool(_WHY), reason=_WHY or "there are namespaces"),
]


async def test_loss_and_delay_make_facts_late_and_never_false(tmp_path: Path) -> None:
    async with world(tmp_path) as w:
        w.far.loss, w.far.delay_s = 0.05, 0.2
        await asyncio.sleep(4.0)
        w.watch.say(action="arm")
        await w.watch.until(2.0, "show", phase="armed")
        w.board.contact(0, True)
        turned_wall_s = w.clock.wall_s()
        w.pulses_each_s = 48.0  # two for a frame
        starting = await w.watch.until(4.0, "show", phase="starting")
        said_wall_s = datetime.fromisoformat(starting["at"]).timestamp()
        assert said_wall_s - turned_wall_s >= 0.19, "it cannot be known sooner than it can travel"
        assert said_wall_s - starting["show_s"] == pytest.approx(turned_wall_s, abs=0.1), (
            "dated when it was so"
        )
        await asyncio.sleep(12.0)
        w.pulses_each_s = 0.0
        w.board.contact(0, False)
        w.far.loss = 0.0
        await w.until(lambda: w.house()["run"] is False, 6.0, "its stop was not told")
        await asyncio.sleep(2.5)
        assert w.far.dropped > 10, "the cable lost hardly anything"
        frames = float(w.house()["frame"]) + 3200.0  # type: ignore[arg-type] # as threaded: 200+00
        assert frames == pytest.approx(w.board.count[0][0] / 2, abs=1.0), "between one pulse and the next"
        assert w.adapter()["lost_lines"] == 0
        allowed = {"adapter-stale", "adapter-lost", "run-lost", "lamp-dark", "start-late", "blind"}
        allowed.add("run-early")  # true: it was armed by hand, an hour before its time
        assert w.alarms() <= allowed, w.alarms()
        assert all(a["show_s"] > 11.0 for a in w.watch.lines("alarm", code="run-lost")), "before it stopped"
        w.watch.end()
        counted = [v[1] for r in w.told() if isinstance(r, Counts) for v in r.values]
        assert counted == sorted(counted)
        assert counted[-1] == w.board.count[0][0] / 2, "every pulse, none twice"


async def test_a_partition_of_twenty_seconds_costs_no_reading_and_brings_no_false_alarm(
    tmp_path: Path,
) -> None:
    async with world(tmp_path) as w:
        w.watch.say(action="arm")
        await w.watch.until(2.0, "show", phase="armed")
        w.board.contact(0, True)
        w.pulses_each_s = 48.0
        await w.watch.until(3.0, "show", phase="starting")
        await asyncio.sleep(3.0)
        w.far.cut = True
        cut_s = w.clock.now_s()
        await w.until(lambda: "adapter-lost" in w.alarms(), 3.0, "that the booth is cut off was not said")
        lost = w.watch.lines("alarm", code="adapter-lost")[0]
        assert (lost["subject"], lost["state"]) == ("north", "unacknowledged")
        assert w.house()["run"] is None, "not known, and not its last value"
        # Before the desk was there it was alone too.
        await w.until(
            lambda: "ALONE" in w.station_says().split("a desk listens")[-1],
            3.0,
            "it does not know that it is alone",
        )
        assert w.clock.now_s() - cut_s <= 3.2
        assert "Two gates" in w.station_says(), "it has the desk's sheet"
        lamp_wall_s = w.clock.wall_s()
        w.board.contact(1, True)  # and for 5 s the motor stands
        await asyncio.sleep(2.0)
        w.board.contact(0, False)
        w.pulses_each_s = 0.0
        stood = w.clock.wall_s()
        await asyncio.sleep(5.0)
        w.board.contact(0, True)
        w.pulses_each_s = 48.0
        again = w.clock.wall_s()
        await asyncio.sleep(max(0.0, 20.0 - (w.clock.now_s() - cut_s)))
        before = w.alarms()
        w.far.cut = False
        back_s = await w.until(
            lambda: w.house()["run"] is True and w.house()["lamp"] is True, 8.0, "not back"
        )
        await w.until(
            lambda: "a desk listens" in w.station_says().split("ALONE")[-1], 2.0, "it does not know"
        )
        await asyncio.sleep(2.0)
        assert w.adapter()["lost_lines"] == 0
        assert w.adapter()["state"] == "up"
        raised = w.alarms() - before
        assert not raised, f"{raised}: back after {back_s:.1f} s"
        assert "run-lost" not in w.alarms(), "it stood, long ago, and turns"
        w.watch.end()
        told = w.told()
        wall = w.clock.wall_s() - w.clock.now_s()
        turns = [(r.fact_s + wall, dict(r.values)) for r in told if isinstance(r, Contacts)]

        def first(signal: str, is_so: bool, after: float) -> float:
            return next(at for at, values in turns if at > after and values.get(signal) is is_so)

        assert first("4.lamp", True, 0.0) == pytest.approx(lamp_wall_s, abs=0.1)
        assert first("4.run", False, lamp_wall_s) == pytest.approx(stood, abs=0.1)
        assert first("4.run", True, stood + 1.0) == pytest.approx(again, abs=0.1)
        counts = sorted({v[1] for r in told if isinstance(r, Counts) for v in r.values})
        assert max(b - a for a, b in pairwise(counts)) <= 5.0, "each tenth of a second"


async def test_a_station_that_hangs_is_known_in_two_seconds(tmp_path: Path) -> None:
    async with world(tmp_path) as w:
        os.kill(w.station.pid, signal.SIGSTOP)
        took_s = await w.until(lambda: "adapter-lost" in w.alarms(), 3.5, "not said")
        assert took_s <= 2.6  # two seconds, and what it takes to be written and read
        assert "hangs, or is cut off" in str(w.adapter()["text"])
        os.kill(w.station.pid, signal.SIGCONT)
        await w.until(lambda: w.house()["run"] is False, 4.0, "not back")
        assert w.adapter()["lost_lines"] == 0
