"""Faults made by hand on the real firmware, and what the operator sees of each: the program's own words and alarms."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from firmware_booth import Booth

from drivers.firmware import line
from drivers.serial_session import Session
from interlock.signals import AdapterSpec, Contacts, CounterWire, Counts, Presence, Reading, Wiring


def other_baud(data: bytes) -> bytes:
    """About what a UART makes of bits that come at another rate."""
    return bytes((b << 1 & 0xFF) ^ 0x2B for b in data)


def test_a_healthy_start_raises_nothing() -> None:
    booth = Booth()
    booth.start(20.0)
    assert booth.alarms() == []
    assert (booth.link().state, booth.link().drift_fr) == ("running", pytest.approx(0.0, abs=0.5))
    assert booth.house("1").speed_fps == pytest.approx(24.0, abs=0.01)
    assert booth.adapter().bad_lines == booth.adapter().lost_lines == 0


def test_two_adapters_swapped_are_asked_about_in_words_on_both_ports() -> None:
    texts = []
    for port, expected, there in (("/dev/ttyACM0", "north", "south"), ("/dev/ttyACM1", "south", "north")):
        said: list[Reading] = []
        sent: list[bytes] = []
        session = Session(AdapterSpec(expected, "serial", {}, Wiring()), port, said.append, lambda data: None)
        adapter = line.Adapter(there, [], 0, [], sent.append, 0, 1 << 30)
        session.opened(1.0)
        adapter.hear(line.whole("ID", 0, 1, []))
        session.data(1.1, b"".join(sent))
        texts.append([p.text for p in said if isinstance(p, Presence)][-1])
    words = (
        "the adapter on {} says that it is {!r}, the show file expects {!r} there: are two adapters swapped?"
    )
    assert texts == [
        words.format("/dev/ttyACM0", "south", "north"),
        words.format("/dev/ttyACM1", "north", "south"),
    ]


def test_with_the_wrong_baud_rate_from_the_start_the_adapter_is_lost_and_the_cause_named() -> None:
    booth = Booth()
    booth.damage = other_baud
    booth.start(5.0)
    state, text = booth.texts()[-1]
    assert state == "gone"
    assert "is the baud rate right?" in text
    assert booth.alarms() == [("adapter-stale", "booth"), ("adapter-lost", "booth")]
    assert booth.adapter().state == "lost"
    assert not [r for r in booth.readings if not isinstance(r, Presence)], "garbage is no reading"


def test_a_line_that_turns_to_garbage_in_mid_show_makes_everything_unknown_and_stops_nobody() -> None:
    booth = Booth()
    booth.start(5.0)
    booth.damage = other_baud
    booth.run(5.0)
    assert booth.alarms() == [("adapter-stale", "booth"), ("adapter-lost", "booth")], "no machine is accused"
    house = booth.house("1")
    assert (house.run, house.lamp, house.frame, booth.link().drift_fr) == (None, None, None, None)
    booth.damage = lambda data: data
    booth.run(3.0)
    assert booth.house("1").run is True
    assert booth.link().drift_fr == pytest.approx(0.0, abs=1.0), "and taken up again from the counters"
    assert booth.alarms()[2:] == []


def test_a_contact_that_chatters_at_1_khz_stops_no_machine_and_floods_no_line() -> None:
    booth = Booth()
    booth.start(5.0)
    since = len(booth.readings)
    booth.each = lambda ms: booth.board.contact(0, ms % 2 == 0)
    booth.run(3.0)
    assert booth.house("1").run is True, "what it was when it last kept still"
    booth.each = lambda ms: None
    booth.board.contact(0, True)
    booth.run(3.0)
    assert booth.alarms() == []
    assert len(booth.readings) - since <= 6 * 20, "the usual 15 to 16 readings a second"
    assert booth.link().drift_fr == pytest.approx(0.0, abs=0.5)


def test_a_contact_that_ends_its_chatter_open_is_a_stop_dated_when_it_settled() -> None:
    booth = Booth()
    booth.start(5.0)
    booth.each = lambda ms: booth.board.contact(0, ms % 2 == 0)
    booth.run(1.0)
    booth.each = lambda ms: None
    booth.board.contact(0, False)
    stopped_s = booth.now_s
    booth.run(0.1)
    fact_s = next(
        r.fact_s
        for r in booth.readings
        if isinstance(r, Contacts) and ("1.run", False) in r.values[:1] and r.fact_s > stopped_s - 2.0
    )
    assert fact_s == pytest.approx(stopped_s, abs=0.005)
    assert ("run-lost", "1") in booth.alarms()


def test_a_counter_with_twice_the_pulses_shows_a_speed_that_no_machine_has() -> None:
    booth = Booth()
    booth.pulses_per_frame = [2, 1]
    booth.start(20.0)
    assert booth.house("1").speed_fps == pytest.approx(48.0, abs=0.1)
    assert booth.house("2").speed_fps == pytest.approx(24.0, abs=0.1)
    assert ("speed-off", "1") in booth.alarms()
    assert ("slack-lost", "1>2") in booth.alarms(), "it cannot be told from a machine that runs away"


def test_half_a_frame_a_pulse_in_the_show_file_puts_it_right() -> None:
    booth = Booth()
    booth.pulses_per_frame = [2, 1]
    booth.rewired(counters={0: CounterWire("1.frames", 0.5), 1: CounterWire("2.frames")})
    booth.start(20.0)
    assert booth.alarms() == []
    assert booth.house("1").speed_fps == pytest.approx(24.0, abs=0.01)


def test_an_adapter_with_fewer_inputs_than_are_wired_says_which_and_they_are_not_known() -> None:
    booth = Booth(levels=4, counters=1)
    booth.start(3.0)
    _, text = booth.texts()[-1]
    assert "it has 4 contact inputs, numbered from 0, and the show file wires 4 (2.run)" in text
    assert "1 (2.frames): not reported, so not known" in text
    first, second = booth.house("1"), booth.house("2")
    assert (first.run, first.film) == (True, True)
    assert (second.run, second.lamp, second.film, second.frame) == (None, None, None, None)
    assert booth.link().drift_fr is None, "never good where one of the two is not known"


def lying() -> Booth:
    """An adapter that says it has ten contacts and two counters, and reports four and one."""
    booth = Booth(levels=4, counters=1)
    hello = line.whole("HI", 0, 0, ["v1", "booth", "levels=10", "counters=2", "analogs=0"])
    booth.damage = lambda data: b"".join(
        hello if one.startswith(b"HI") else one + b"\n" for one in data.split(b"\n")[:-1]
    )
    booth.start(3.0)
    return booth


def test_a_counter_that_the_adapter_promises_and_does_not_report_is_not_a_counter_at_0() -> None:
    signals = {v[0] for r in lying().readings if isinstance(r, Counts) for v in r.values}
    assert signals == {"1.frames"}


def test_a_contact_that_the_adapter_promises_and_does_not_report_is_not_an_open_contact() -> None:
    assert lying().house("2").run is None


PPM = 200.0
FOUR_HOURS_S = 4 * 3600


def test_over_four_hours_two_adapters_200_ppm_apart_each_way_date_one_pulse_alike() -> None:
    chance = random.Random(4)
    worst_fr, naive_s = [], 0.0
    sessions: list[tuple[Session, list[Reading], float]] = []
    wiring = Wiring(counters={0: CounterWire("1.frames")})
    for ppm in (PPM, -PPM):
        said: list[Reading] = []
        sessions.append(
            (Session(AdapterSpec("a", "serial", {}, wiring), "p", said.append, lambda data: None), said, ppm)
        )
        sessions[-1][0].opened(0.0)
    for n in range(1, FOUR_HOURS_S * 2):  # a count line each half second, of a machine with 12 frames in it
        true_s = n / 2.0
        dates = []
        for session, said, ppm in sessions:
            tick = int(true_s * 1000 * (1 + ppm * 1e-6))
            told = line.whole("CT", n % 65536, tick, ["%d@%d" % (12 * n, tick)])  # noqa: UP031
            session.data(true_s + 0.002 + chance.expovariate(1 / 0.004), told)
            counts = [r for r in said if isinstance(r, Counts)]
            assert not said or counts or n < 3
            dates.append(counts[-1].values[0][2] if counts else None)
            naive_s = abs(tick / 1000.0 - true_s)
            said.clear()
        if true_s > 60.0 and dates[0] is not None and dates[1] is not None:
            worst_fr.append(24.0 * abs(dates[0] - dates[1]))
    assert naive_s == pytest.approx(2.88, abs=0.01), (
        "200 ppm of four hours, 69 frames: more than a loop holds"
    )
    assert max(worst_fr) < 0.1, "a tenth of a frame between the two, at any time after the first minute"
    assert len(worst_fr) > 28_000


def test_the_ticks_of_the_boards_story_never_run_backwards_for_a_level() -> None:
    booth = Booth()
    chance = random.Random(7)
    booth.each = lambda ms: (
        booth.board.contact(chance.randrange(10), chance.random() < 0.5) if ms % 3 == 0 else None
    )
    booth.run(10.0)
    facts = [r.fact_s for r in booth.readings if isinstance(r, Contacts)]
    assert len(facts) > 50
    assert all(b >= a for a, b in pairwise(facts))
