"""Faults by hand, one after the other, on a live desk: what the operator reads of each, and that nothing false follows.

Each test is a row of the table in docs/hardware.md.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hand_board import FILM, RUN, other_baud
from hand_booth import HandBooth
from hand_rows import by_hand

from drivers.firmware import line

pytestmark = [pytest.mark.realtime, pytest.mark.long]
SILENT = [("adapter-stale", "north"), ("adapter-lost", "north")]


@pytest.fixture
def booth(tmp_path: Path) -> Iterator[HandBooth]:
    with HandBooth(tmp_path) as made:
        yield made


def back(booth: HandBooth) -> None:
    """All is known again, and the drift is what it was."""
    booth.reads("alarm adapter-lost on north: gone, not acknowledged", 6.0)
    booth.until(lambda: booth.house("1")["run"] is not None, 3.0, "house 1 is still not known")
    booth.wait(3.5)
    assert booth.normal("adapter-stale", "north")
    assert booth.adapter("north")["state"] == "up"
    assert booth.house("1")["run"] is True
    drift_fr = booth.drift_fr()
    assert drift_fr is not None
    assert drift_fr == pytest.approx(0.0, abs=1.5)


@by_hand("pull an adapter's USB plug in mid-show")
def test_an_unplugged_adapter_is_lost_in_two_seconds_and_no_machine_is_accused(booth: HandBooth) -> None:
    booth.plug()
    booth.watch()
    booth.start()
    assert booth.raised() == []
    booth.north.unplug()
    said = booth.reads("adapter north is silent")
    assert str(booth.ports["north"]) in said, "which port"
    booth.until(lambda: said in "\n".join(booth.attached()), 2.0, "on the other screen too")
    assert "high alarm adapter-lost on north" in booth.reads("alarm adapter-lost on north (first-out)")
    assert "nobody knows" in booth.reads("house 1: leader; turns or not")
    booth.wait(3.0)
    assert booth.house("1")["frame"] is None
    assert booth.drift_fr() is None, "not known is never good"
    assert booth.house("2")["run"] is True, "the other adapter's house is as it was"
    assert booth.raised() == SILENT, "no stop, no slack, no count"


@by_hand("plug it in again, and it gets another device name")
def test_an_adapter_that_comes_back_as_another_device_is_taken_up_where_it_is(booth: HandBooth) -> None:
    was = booth.north.plug(booth.ports["north"])
    booth.south.plug(booth.ports["south"])
    booth.watch()
    booth.start()
    booth.north.unplug()
    booth.reads("alarm adapter-lost on north (first-out)", 4.0)
    other, taken = os.openpty()  # somebody else is quicker to the old number
    try:
        assert booth.north.plug(booth.ports["north"]) != was
        booth.reads("adapter north speaks", 6.0)
        back(booth)
        assert booth.raised() == SILENT, "the film that ran meanwhile is no jump and no restart"
        assert booth.adapter("north")["text"] == ""
    finally:
        os.close(other)
        os.close(taken)


@by_hand("change two adapters' plugs over")
def test_two_adapters_swapped_are_told_on_both_and_put_right_by_changing_them_back(booth: HandBooth) -> None:
    booth.plug(north="south", south="north")
    booth.watch()
    for here, there in (("north", "south"), ("south", "north")):
        said = booth.reads(f"says that it is '{there}', the show file expects '{here}' there")
        assert "are two adapters swapped?" in said
        assert str(booth.ports[here]) in said
    booth.north.unplug()
    booth.south.unplug()
    booth.plug()
    booth.until(
        lambda: booth.adapter("north")["state"] == "up" and not booth.adapter("north")["text"], 8.0, "north"
    )
    booth.until(
        lambda: booth.adapter("south")["state"] == "up" and not booth.adapter("south")["text"], 8.0, "south"
    )
    booth.start(4.0)
    assert {code for code, _ in booth.raised()} <= {"adapter-stale", "adapter-lost"}
    assert booth.drift_fr() == pytest.approx(0.0, abs=1.0)


@by_hand("set the wrong baud rate")
def test_a_wrong_baud_rate_is_named_as_the_likely_cause(booth: HandBooth) -> None:
    booth.north.damage = other_baud
    booth.plug()
    booth.watch()
    assert "what comes in is no adapter line" in booth.reads("is the baud rate right?", 8.0)
    assert booth.raised() == SILENT
    assert booth.house("1")["run"] is None, "garbage is no reading"
    booth.north.damage = lambda data: data
    booth.until(lambda: booth.house("1")["run"] is False, 4.0, "not taken up")
    assert booth.normal("adapter-lost", "north")
    booth.start(4.0)
    assert booth.raised() == SILENT


@by_hand("let a motor contact chatter a thousand times a second")
def test_a_contact_that_chatters_stops_no_machine_and_floods_nobody(booth: HandBooth) -> None:
    booth.plug()
    booth.watch()
    booth.start()
    before = len(booth.lines("house", house="1"))
    booth.north.chatter = RUN
    booth.wait(5.0)
    assert booth.house("1")["run"] is True, "what it was when it last kept still"
    assert len(booth.lines("house", house="1")) - before <= 7, "one line a second, as ever"
    booth.north.chatter = None
    booth.wait(2.0)
    assert booth.raised() == []
    assert booth.house("1")["run"] is True
    assert booth.drift_fr() == pytest.approx(0.0, abs=0.5)


@by_hand("let a film contact chatter a thousand times a second")
def test_a_film_contact_that_chatters_is_no_film_out(booth: HandBooth) -> None:
    booth.plug()
    booth.watch()
    booth.start()
    booth.north.chatter = FILM
    booth.wait(4.0)
    assert booth.house("1")["film"] is True
    assert booth.raised() == []


@by_hand("let a counter give two pulses a frame")
def test_a_counter_with_twice_the_pulses_is_a_speed_that_no_machine_has(booth: HandBooth) -> None:
    booth.north.pulses_per_frame = 2.0
    booth.plug()
    booth.watch()
    booth.start(0.5)
    said = booth.reads("alarm speed-off on 1", 12.0)
    assert "Two machines differ by" in said
    booth.wait(1.0)
    assert booth.house("1")["speed_fps"] == pytest.approx(48.0, abs=0.2)
    assert "of them is off cannot be told" in said
    assert {c for c, subject in booth.raised() if subject == "2"} <= {"speed-off"}
    assert ("slack-lost", "1>2") in booth.raised(), "it cannot be told from a machine that runs away"


@by_hand("let a counter give two pulses a frame")
def test_half_a_frame_a_pulse_puts_it_right(tmp_path: Path) -> None:
    with HandBooth(tmp_path, each=0.5) as booth:
        booth.north.pulses_per_frame = 2.0
        booth.plug()
        booth.watch()
        booth.start(7.0)
        assert booth.raised() == []
        assert booth.house("1")["speed_fps"] == pytest.approx(24.0, abs=0.1)


@by_hand("plug in a board with fewer inputs than are wired")
def test_a_board_with_fewer_inputs_says_which_are_not_known(tmp_path: Path) -> None:
    with HandBooth(tmp_path, north={"levels": 2, "counters": 0}) as booth:
        booth.plug()
        booth.watch()
        said = booth.reads(
            "it has 2 contact inputs, numbered from 0, and the show file wires 2 (1.dowser), 3 (1.film)"
        )
        assert "0 (1.frames)" in said
        booth.start(4.0)
        house = booth.house("1")
        assert (house["run"], house["film"], house["dowser"]) == (True, None, None)
        assert not [
            code for code, subject in booth.raised() if code in ("film-out", "count-lost", "run-lost")
        ]


@by_hand("plug in a board that promises more inputs than it reports")
def test_a_promised_input_that_is_not_reported_is_not_an_open_contact(tmp_path: Path) -> None:
    with HandBooth(tmp_path, film=5, north={"counters": 0}, south={"levels": 6}) as booth:
        booth.north.damage = lambda data: b"".join(_promised(one) for one in data.split(b"\n")[:-1])
        booth.plug()
        booth.watch()
        booth.until(lambda: booth.house("1")["run"] is False, 4.0, "its contacts are not known")
        booth.start(4.0)
        house = booth.house("1")
        assert (house["run"], house["film"], house["speed_fps"]) == (True, None, None)
        assert house["sigma_fr"] > 1.0, "known by its motor's contact alone, and said to be no better"
        assert not [c for c, _ in booth.raised() if c in ("film-out", "count-lost", "run-lost", "slack-lost")]


def _promised(one: bytes) -> bytes:
    """Its greetings with more inputs in them than there are."""
    if not one.startswith(b"HI"):
        return one + b"\n"
    kind, seq, tick, _, _, _, _, _, *asked = one.rpartition(b"*")[0].decode().split(" ")
    more = ["v1", "north", "levels=8", "counters=1", "analogs=0", *asked]
    return line.whole(kind, int(seq), int(tick), more)
