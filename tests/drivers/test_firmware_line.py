"""The adapter's firmware under CPython: its rhythm, its debounce, its ticks; read by the program's own parser."""

from __future__ import annotations

from binascii import crc_hqx
from itertools import pairwise
from typing import Any

import pytest
from firmware_story import Board, story
from hypothesis import given
from hypothesis import strategies as st

from drivers.firmware import board as wired
from drivers.firmware import line
from drivers.wire import Hello, Levels, Line, Pulses, Raws, encode
from drivers.wire_parser import Parser


def heard(board: Any) -> list[tuple[int, Line]]:
    """(ms at which it was said, line); nothing of it may be damaged or missing."""
    parser = Parser()
    lines = [(ms, one) for ms, data in board.said for one in parser.feed(data)]
    assert len(lines) == len(board.said)
    assert parser.tally.bad == parser.tally.unknown == 0
    assert all(one.lost == 0 for _, one in lines)
    return lines


def of(board: Any, kind: type[Any], since_ms: int = 0) -> list[tuple[int, Any]]:
    return [(ms, one) for ms, one in heard(board) if isinstance(one, kind) and ms >= since_ms]


def test_its_crc_is_the_pages() -> None:
    # CRC-16/IBM-3740 of 123456789 is 29B1 [P] CRC catalogues
    assert line.crc16(b"123456789") == 0x29B1


@given(st.binary(max_size=255))
def test_its_crc_agrees_with_the_standard_librarys(data: bytes) -> None:
    assert line.crc16(data) == crc_hqx(data, 0xFFFF)


def test_it_writes_the_pages_own_examples() -> None:
    # [D] the adapter line's page: examples with their CRCs as computed
    sizes = ["v1", "north", "levels=12", "counters=4", "analogs=0"]
    assert line.whole("HI", 0, 3, sizes) == b"HI 0 3 v1 north levels=12 counters=4 analogs=0*CBB0\n"
    assert line.whole("LV", 44, 8512, ["009"]) == b"LV 44 8512 009*3A8F\n"
    fields = ["5@8309", "1@8290", "0@0", "0@0"]
    assert line.whole("CT", 43, 8320, fields) == b"CT 43 8320 5@8309 1@8290 0@0 0@0*04C3\n"


def test_at_power_up_it_says_who_it_is_and_then_everything() -> None:
    board = Board(line, levels=12, counters=4, analogs=0)
    first = [type(one) for _, one in heard(board)]
    assert first == [Hello, Levels, Pulses]
    hello = heard(board)[0][1]
    assert isinstance(hello, Hello)
    assert (hello.seq, hello.tick, hello.re) == (0, 0, None)
    assert (hello.name, hello.levels, hello.counters, hello.analogs) == ("north", 12, 4, 0)
    assert board.said[1][1].startswith(b"LV 1 0 000*"), "three hex digits for twelve levels"


def test_an_id_is_answered_at_once_with_its_seq_and_then_everything() -> None:
    board = Board(line)
    board.run(500)
    since = len(board.said)
    board.hear(encode("ID", 65535, 91733)[:9])
    assert len(board.said) == since
    board.hear(encode("ID", 65535, 91733)[9:])
    lines = [one for _, one in heard(board)[since:]]
    assert [type(one) for one in lines] == [Hello, Levels, Pulses, Raws]
    assert isinstance(lines[0], Hello)
    assert lines[0].re == 65535


@pytest.mark.parametrize(
    "noise",
    [
        b"ID 0 1*0000\n",
        encode("LV", 0, 1, "0"),
        encode("ID", 0, 1, "x"),
        b"\n\n",
        b"\xff" * 300,
        line.whole("ID", 65536, 0, []),
        b"*",
    ],
)
def test_anything_else_is_ignored_and_does_not_hide_the_next_id(noise: bytes) -> None:
    board = Board(line)
    since = len(board.said)
    board.hear(noise)
    assert len(board.said) == since
    board.hear(b"\n" + encode("ID", 3, 1))
    assert b"re=3" in board.said[since][1]


def test_levels_come_at_least_every_250_ms_and_counts_and_arms_every_100() -> None:
    board = Board(line)
    board.run(10_000)
    for kind, low, high in ((Levels, 100, 250), (Pulses, 100, 100), (Raws, 100, 100)):
        times = [ms for ms, _ in of(board, kind)]
        gaps = {b - a for a, b in pairwise(times)}
        assert low <= min(gaps) <= max(gaps) <= high, kind
    assert all(one.tick == ms for ms, one in heard(board)), "with nothing to report, every tick is now"


def test_a_change_leaves_within_2_ms_of_having_settled_and_is_dated_by_its_first_edge() -> None:
    board = Board(line)
    board.run(1000)
    for bounce in (True, False, True):
        board.contact(3, bounce)
        board.run(2)
    last_edge_ms = 1004
    board.run(50)
    changed = [(ms, lv) for ms, lv in of(board, Levels, 1000) if lv.mask == 0b1000]
    assert changed[0][1].tick == 1000
    assert last_edge_ms + line.DEBOUNCE_MS <= changed[0][0] <= last_edge_ms + line.DEBOUNCE_MS + 2


def test_a_spike_shorter_than_the_debounce_is_no_change() -> None:
    board = Board(line)
    board.run(300)
    board.contact(0, True)
    board.run(2)
    board.contact(0, False)
    board.run(1000)
    assert {lv.mask for _, lv in of(board, Levels)} == {0}


def test_a_contact_that_chatters_at_1_khz_makes_no_storm_and_is_dated_when_it_settles() -> None:
    board = Board(line)
    board.run(1000)
    board.run(3000, lambda ms: board.contact(2, ms % 2 == 0))
    assert {lv.mask for _, lv in of(board, Levels)} == {0}, "it stays what it last was for certain"
    assert len(of(board, Levels, 1000)) <= 3000 / 100, "and the line carries its usual few lines"
    assert max(b - a for (a, _), (b, _) in pairwise(of(board, Levels))) <= 250
    board.contact(2, True)
    settled_ms = board.ms
    board.run(100)
    first = next(lv for _, lv in of(board, Levels) if lv.mask)
    assert abs(first.tick - settled_ms) <= 1


def test_levels_are_never_told_older_than_what_was_told_before() -> None:
    board = Board(line)
    board.run(1150)

    def each(ms: int) -> None:
        if 1190 <= ms <= 1193 or 1395 <= ms <= 1396:  # about when levels are due anyway
            board.contact(0, ms % 2 == 0)

    board.run(600, each)
    ticks = [lv.tick for _, lv in of(board, Levels)]
    assert ticks == sorted(ticks)


def test_two_contacts_that_change_in_one_step_are_told_one_by_one_the_earlier_first() -> None:
    board = Board(line)
    board.run(500)
    board.contact(4, True)
    board.ms += 2  # the board was busy
    board.contact(1, True)
    board.ms += 20
    board.run(30)
    news = [(lv.tick, lv.mask) for _, lv in of(board, Levels) if lv.mask]
    assert news[:2] == [(500, 0b10000), (502, 0b10010)]


def test_an_edge_whose_interrupt_was_missed_is_seen_all_the_same() -> None:
    board = Board(line)
    board.run(500)
    board.closed[0] = True
    board.run(20)
    assert of(board, Levels)[-1][1].mask == 1


def test_pulses_bear_the_tick_of_the_latest() -> None:
    board = Board(line)
    board.run(2000, lambda ms: board.pulse(1) if ms % 42 == 0 else None)
    for ms, ct in of(board, Pulses, 100):
        assert ct.counters == ((0, 0), (ms // 42, ms // 42 * 42))


def test_counts_go_past_65535_and_wrap_at_32_bits() -> None:
    board = Board(line, counters=1)
    board.run(7000, lambda ms: [board.pulse(0) for _ in range(10)])
    assert of(board, Pulses)[-1][1].counters[0][0] == 70_000
    counter = line.Counter()
    counter._total = 2**32 - 2
    for _ in range(3):
        counter.pulse(5)
    assert counter.field(line.Ticks(0, 1 << 30)) == "1@5"


@given(period=st.sampled_from([1 << 20, 1 << 30, 1 << 32]), start=st.integers(0, 2**32))
def test_raw_ticks_that_wrap_early_become_32_bits_that_do_not(period: int, start: int) -> None:
    ticks = line.Ticks(start % period, period)
    raw, true = start, 0
    for step in (1, 999, period // 2 - 1, 5, period // 2 - 1, 70):
        raw, true = raw + step, true + step
        assert ticks.now(raw % period) == true % 2**32
        assert ticks.of((raw - 40) % period) == (true - 40) % 2**32


def test_seq_goes_round() -> None:
    board = Board(line, levels=1, counters=1, analogs=0)
    board.adapter._seq = 65530
    board.said.clear()
    board.run(2000)
    seqs = [int(data.split(b" ")[1]) for _, data in board.said]
    assert seqs[5:7] == [65535, 0]


def test_more_counters_than_a_line_has_room_for_are_refused() -> None:
    with pytest.raises(ValueError, match="10 counters"):
        Board(line, counters=11)


def test_the_longest_line_fits() -> None:
    board = Board(line, levels=64, counters=10, analogs=8)
    for counter in board.adapter.counters:
        counter._total = counter._tick = 2**32 - 1
    board.run(300)
    assert max(len(data) for _, data in board.said) <= 255
    heard(board)


def test_the_boards_own_table_uses_no_pin_twice_and_says_a_name_that_fits() -> None:
    pins = [*wired.LEVELS, *wired.COUNTERS, *wired.ANALOGS, wired.SERVICE]
    assert len(pins) == len(set(pins))
    assert set(pins) <= set(range(23)) | {26, 27, 28}, "23, 24, 25 and 29 are the board's own"
    assert set(wired.ANALOGS) <= {26, 27, 28}
    encode("HI", 0, 0, wired.NAME)
    assert len(wired.COUNTERS) <= line.MAX_COUNTERS


def test_the_story_is_one_whole_stream() -> None:
    said = story(line)
    parser = Parser()
    lines = parser.feed(b"".join(data for _, data in said))
    assert parser.tally.lines == len(said) == len(lines)
    assert next(one.tick for one in lines if isinstance(one, Levels) and one.mask == 1) == 700
