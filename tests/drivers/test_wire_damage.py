"""The adapter line: what is damaged is dropped and counted by its cause, what is missing is counted, nothing stops the stream."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wire_examples import EXAMPLES, PARSED, bad, opened, with_crc

from drivers.wire import Levels, encode
from drivers.wire_parser import Parser

noise = st.one_of(
    st.binary(max_size=600),
    st.lists(st.sampled_from([b"\n", b"\r", b"*", b" ", b"LV 1 5 000*63EA\n", b"A" * 250, b"\x00"])).map(
        b"".join
    ),
)


@given(noise, st.data())
def test_whatever_comes_in_nothing_is_raised_and_splitting_changes_nothing(
    stream: bytes, data: st.DataObject
) -> None:
    whole = Parser()
    lines = whole.feed(stream + b"\nLV 1 5 000*63EA\n")
    assert isinstance(lines[-1], Levels), "the stream goes on at the next line feed"
    split, got = Parser(), []
    rest = stream + b"\nLV 1 5 000*63EA\n"
    while rest:
        n = data.draw(st.integers(1, len(rest)))
        got += split.feed(rest[:n])
        rest = rest[n:]
    assert got == lines
    assert split.tally == whole.tally


@given(st.integers(0, len(EXAMPLES) - 1), st.integers(1, 255))
def test_one_damaged_byte_is_always_noticed(where: int, flip: int) -> None:
    damaged = bytearray(EXAMPLES)
    damaged[where] ^= flip
    parser = Parser()
    lines = parser.feed(bytes(damaged) + b"CT 43 8320 5@8309 1@8290 0@0 0@0*04C3\n")
    assert sum(bad(parser).values()) >= 1
    hit = EXAMPLES[:where].count(b"\n")
    spoiled = {hit, hit + 1} if EXAMPLES[where] == ord("\n") else {hit}
    unhurt = [x for k, x in enumerate(PARSED) if k not in spoiled]
    told = [(type(x), x.seq, x.tick) for x in lines]
    assert [t for t in told if t in {(type(x), x.seq, x.tick) for x in unhurt}][: len(unhurt)] == [
        (type(x), x.seq, x.tick) for x in unhurt
    ], "all others come through"
    spoiled_lines = [x for k, x in enumerate(PARSED) if k in spoiled]
    assert len(lines) <= len(unhurt) + 1, f"and of {spoiled_lines} nothing does"


@pytest.mark.parametrize(
    "body",
    [
        b"LV 1 5", b"LV 1 5 0 0", b"LV 1 5 G", b"LV 1 5 ", b"LV 1 5 -1", b"LV 1 5 0x1", b"LV 65536 5 0", b"LV 1 4294967296 0",
        b"LV  1 5 0", b"LV -1 5 0", b"LV 1 5.0 0", b" LV 1 5 0", b"LV 1_0 5 0", b"LV 1 5 0*0",
        b"CT 1 5 1", b"CT 1 5 1@", b"CT 1 5 @1", b"CT 1 5 1@1@1", b"CT 1 5 4294967296@0", b"CT 1 5 0@4294967296",
        b"CT 1 5" + b" 0@0" * 11, b"CT 1 5 -1@0",
        b"AN 1 5", b"AN 1 5 4096", b"AN 1 5 x", b"AN 1 5 1 ", b"AN 1 5 -1",
        b"HI 1 5", b"HI 1 5 v1 north levels=1 counters=1", b"HI 1 5 v1 north levels=1 counters=11 analogs=0",
        b"HI 1 5 v1 north levels=x counters=1 analogs=0", b"HI 1 5 1 north levels=1 counters=1 analogs=0",
        b"HI 1 5 v1 north levels=1 counters=1 analogs=0 re=65536", b"HI 1 5 v1 north levels=1 counters=1 analogs=0 re=",
        b"HI 1 5 v1 north levels=1 counters=1 analogs=0 more", b"HI 1 5 v1  levels=1 counters=1 analogs=0",
        b"ID 1 5 more", b"L 1 5 0", b"lv 1 5 0", b"LVX 1 5 0", b"L1 1 5 0", b"", b"LV",
    ],
)  # fmt: skip
def test_fields_that_do_not_fit_their_kind_are_dropped_and_counted(body: bytes) -> None:
    parser = opened()
    assert parser.feed(with_crc(body)) == []
    assert bad(parser) == {"bad_fields": 1}


@pytest.mark.parametrize(
    ("data", "cause"),
    [
        (b"LV 1 5 000*63EB\n", "bad_crc"),
        (b"LV 1 5 000*63ea\n", "bad_crc"),  # four *capital* hex digits
        (b"LV 1 5 000\n", "bad_crc"),
        (b"\n", "bad_crc"),
        (b"LV 1 5 000*63EA\r\r\n", "bad_byte"),
        (with_crc(b"LV 1 5 \xb20"), "bad_byte"),
        (with_crc(b"LV 1 5\t0"), "bad_byte"),
        (with_crc(b"XX 1 5 \x7f"), "bad_byte"),
        (with_crc(b"XX 1 5 " + b"x" * 243), "too_long"),
        (b"\xff" * 100_000 + b"\n", "too_long"),
    ],
)
def test_damage_is_counted_by_its_cause(data: bytes, cause: str) -> None:
    parser = opened()
    assert parser.feed(data) == []
    assert bad(parser) == {cause: 1}
    assert parser.feed(b"LV 1 5 000*63EA\n") == [Levels(1, 5, 0, 0, 12)], "and reading goes on"


def test_memory_is_bounded_however_long_the_line_feed_stays_away() -> None:
    parser = opened()
    for _ in range(1000):
        parser.feed(b"x" * 4096)
    assert len(parser._tail) <= 255
    assert bad(parser) == {"too_long": 1}


def test_a_jump_of_seq_counts_the_lines_lost_and_wraps() -> None:
    parser = Parser()
    seqs = [65530, 65534, 65535, 0, 1, 5, 5, 6]
    lines = [parser.feed(encode("LV", seq, 9, "0"))[0] for seq in seqs]
    assert [line.lost for line in lines] == [0, 3, 0, 0, 0, 3, 0, 0], "a line told twice is none lost"


def test_a_damaged_line_is_missing_too_and_one_with_unfit_fields_is_not() -> None:
    parser = Parser()
    data = encode("LV", 7, 9, "0") + b"LV 8 9 0*0000\n" + encode("LV", 9, 9, "0")
    assert [line.lost for line in parser.feed(data)] == [0, 1]
    data = encode("LV", 11, 9, "G") + encode("LV", 12, 9, "0")
    assert [line.lost for line in parser.feed(data)] == [1], "10 is missing; 11 came, and was of no use"


def test_an_unasked_hello_begins_seq_anew_and_an_answer_does_not() -> None:
    parser = Parser()
    data = (
        encode("LV", 500, 9, "0")
        + encode("HI", 502, 9, "v1", "a", "levels=1", "counters=0", "analogs=0", "re=3")
        + encode("HI", 0, 3, "v1", "a", "levels=1", "counters=0", "analogs=0")
        + encode("LV", 1, 9, "0")
    )
    assert [line.lost for line in parser.feed(data)] == [0, 1, 0, 0]


def test_a_line_that_began_before_the_port_was_opened_is_nobodys_fault() -> None:
    parser = Parser()
    parser.feed(b"1@8290 0@0 0@0*04C3\nLV 1 5 000*63EA\nLV 2")
    assert bad(parser) == {"cut": 1}
    parser.reopened()
    assert parser.feed(b"LV 1 5 000*63EA\n") == [Levels(1, 5, 0, 0, 12)], (
        "what was begun is not finished here"
    )
