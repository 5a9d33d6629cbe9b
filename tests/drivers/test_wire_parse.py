"""The adapter line: what is whole comes through, what is damaged is dropped and counted, nothing stops the stream."""

from __future__ import annotations

import itertools
import re
from binascii import crc_hqx

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.wire import Ask, Hello, Levels, Parser, Pulses, Raws, Unknown, encode

# Source: the examples of wire.md, CRCs as computed there.
EXAMPLES = b"""HI 0 3 v1 north levels=12 counters=4 analogs=0*CBB0
LV 1 5 000*63EA
CT 2 103 0@0 0@0 0@0 0@0*D375
LV 41 8120 001*3252
LV 42 8262 009*9835
CT 43 8320 5@8309 1@8290 0@0 0@0*04C3
LV 44 8512 009*3A8F
ID 0 91733*8AFA
"""
PARSED = [
    Hello(0, 3, 0, 1, "north", 12, 4, 0),
    Levels(1, 5, 0, 0, 12),
    Pulses(2, 103, 0, ((0, 0),) * 4),
    Levels(41, 8120, 38, 1, 12),
    Levels(42, 8262, 0, 9, 12),
    Pulses(43, 8320, 0, ((5, 8309), (1, 8290), (0, 0), (0, 0))),
    Levels(44, 8512, 0, 9, 12),
    Ask(0, 91733, 0),
]


def with_crc(body: bytes) -> bytes:
    return b"%b*%04X\n" % (body, crc_hqx(body, 0xFFFF))


def bitwise_crc(data: bytes) -> int:
    """CRC-16/IBM-3740 from its definition: polynomial 0x1021, initial 0xFFFF, not reflected, no final xor."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ (0x1021 if crc & 0x8000 else 0)) & 0xFFFF
    return crc


def opened() -> Parser:
    """A parser that is past the first piece after an opening."""
    parser = Parser()
    parser.feed(b"LV 0 1 0*%04X\n" % crc_hqx(b"LV 0 1 0", 0xFFFF))
    return parser


def bad(parser: Parser) -> dict[str, int]:
    tally = parser.tally
    causes = ("too_long", "bad_byte", "bad_crc", "bad_fields", "cut")
    return {c: n for c in causes if (n := getattr(tally, c))}


def test_the_crc_is_the_published_one() -> None:
    # reference.md, Marks: CRC-16/IBM-3740 of 123456789 is 29B1 (CRC catalogues)
    assert crc_hqx(b"123456789", 0xFFFF) == 0x29B1 == bitwise_crc(b"123456789")
    body, crc = re.split(rb"\*", encode("XX", 1, 2, "123456789").strip())
    assert int(crc, 16) == bitwise_crc(body)


def test_every_example_of_the_page_is_read_as_it_says() -> None:
    parser = Parser()
    assert parser.feed(EXAMPLES) == PARSED
    assert parser.tally.lines == 8
    assert parser.tally.bad == 0


def test_the_question_is_written_as_in_the_example() -> None:
    assert encode("ID", 0, 91733) == b"ID 0 91733*8AFA\n"


def test_a_carriage_return_before_the_line_feed_is_ignored() -> None:
    assert Parser().feed(EXAMPLES.replace(b"\n", b"\r\n")) == PARSED


@given(st.lists(st.integers(0, len(EXAMPLES)), max_size=12))
def test_split_anywhere_the_lines_are_the_same(cuts: list[int]) -> None:
    parser, lines = Parser(), []
    edges = [0, *sorted(cuts), len(EXAMPLES)]
    for a, b in itertools.pairwise(edges):
        lines += parser.feed(EXAMPLES[a:b])
    assert lines == PARSED


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


field = st.text(
    st.characters(min_codepoint=0x21, max_codepoint=0x7E, exclude_characters="*"), min_size=1, max_size=20
)
tick = st.integers(0, 2**32 - 1)


@given(st.integers(0, 65535), tick, st.lists(st.tuples(tick, tick), max_size=10))
def test_counts_that_are_written_come_back(seq: int, now: int, counts: list[tuple[int, int]]) -> None:
    data = encode("CT", seq, now, *(f"{c}@{t}" for c, t in counts))
    assert Parser().feed(data) == [Pulses(seq, now, 0, tuple(counts))]


@given(st.text("QX", min_size=2, max_size=2), st.integers(0, 65535), tick, st.lists(field, max_size=9))
def test_any_line_of_a_later_version_is_skipped_and_counted_apart(
    kind: str, seq: int, now: int, fields: list[str]
) -> None:
    parser = Parser()
    assert parser.feed(encode(kind, seq, now, *fields)) == [Unknown(seq, now, 0, kind)]
    assert (parser.tally.lines, parser.tally.unknown, parser.tally.bad) == (1, 1, 0)


@given(
    st.integers(0, 65535),
    tick,
    st.integers(0, 2**64 - 1),
    st.lists(st.integers(0, 4095), min_size=1, max_size=16),
)
def test_levels_and_arms_that_are_written_come_back(seq: int, now: int, mask: int, raws: list[int]) -> None:
    assert Parser().feed(encode("LV", seq, now, f"{mask:016X}")) == [Levels(seq, now, 0, mask, 64)]
    assert Parser().feed(encode("AN", seq, now, *map(str, raws))) == [Raws(seq, now, 0, tuple(raws))]


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


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_a_line_of_255_bytes_with_its_line_feed_is_whole(end: bytes) -> None:
    data = with_crc(b"XX 1 5 " + b"x" * 242)
    assert len(data) == 255
    for cut in (250, 254, 255):
        data = data.replace(b"\r", b"").replace(b"\n", end)
        parser = Parser()
        assert parser.feed(data[:cut]) + parser.feed(data[cut:]) == [Unknown(1, 5, 0, "XX")]


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


def test_another_version_is_told_as_such_whatever_else_its_hello_says() -> None:
    (line,) = Parser().feed(encode("HI", 0, 3, "v2", "north", "inputs=a,b", "re=7"))
    assert isinstance(line, Hello)
    assert (line.version, line.name, line.re, line.levels) == (2, "north", 7, 0)


def test_a_line_that_began_before_the_port_was_opened_is_nobodys_fault() -> None:
    parser = Parser()
    parser.feed(b"1@8290 0@0 0@0*04C3\nLV 1 5 000*63EA\nLV 2")
    assert bad(parser) == {"cut": 1}
    parser.reopened()
    assert parser.feed(b"LV 1 5 000*63EA\n") == [Levels(1, 5, 0, 0, 12)], (
        "what was begun is not finished here"
    )


@pytest.mark.parametrize(
    ("kind", "seq", "now", "fields"),
    [("id", 0, 0, ()), ("ID", 65536, 0, ()), ("ID", 0, 2**32, ()), ("XX", 0, 0, ("a b",)), ("XX", 0, 0, ("*",)),
     ("XX", 0, 0, ("",)), ("XX", 0, 0, ("é",)), ("XX", 0, 0, ("\n",)), ("XX", 0, 0, ("x" * 250,)), ("IDX", 0, 0, ())],
)  # fmt: skip
def test_what_would_be_no_line_is_not_written(kind: str, seq: int, now: int, fields: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match=r"."):
        encode(kind, seq, now, *fields)
