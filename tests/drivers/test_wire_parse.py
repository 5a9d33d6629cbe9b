"""The adapter line: what is whole comes through, however it is cut into pieces, and what is written comes back."""

from __future__ import annotations

import itertools
import re
from binascii import crc_hqx

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wire_examples import EXAMPLES, PARSED, with_crc

from drivers.wire import Hello, Levels, Pulses, Raws, Unknown, encode
from drivers.wire_parser import Parser


def bitwise_crc(data: bytes) -> int:
    """CRC-16/IBM-3740 from its definition: polynomial 0x1021, initial 0xFFFF, not reflected, no final xor."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ (0x1021 if crc & 0x8000 else 0)) & 0xFFFF
    return crc


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


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_a_line_of_255_bytes_with_its_line_feed_is_whole(end: bytes) -> None:
    data = with_crc(b"XX 1 5 " + b"x" * 242)
    assert len(data) == 255
    for cut in (250, 254, 255):
        data = data.replace(b"\r", b"").replace(b"\n", end)
        parser = Parser()
        assert parser.feed(data[:cut]) + parser.feed(data[cut:]) == [Unknown(1, 5, 0, "XX")]


def test_another_version_is_told_as_such_whatever_else_its_hello_says() -> None:
    (line,) = Parser().feed(encode("HI", 0, 3, "v2", "north", "inputs=a,b", "re=7"))
    assert isinstance(line, Hello)
    assert (line.version, line.name, line.re, line.levels) == (2, "north", 7, 0)


@pytest.mark.parametrize(
    ("kind", "seq", "now", "fields"),
    [("id", 0, 0, ()), ("ID", 65536, 0, ()), ("ID", 0, 2**32, ()), ("XX", 0, 0, ("a b",)), ("XX", 0, 0, ("*",)),
     ("XX", 0, 0, ("",)), ("XX", 0, 0, ("é",)), ("XX", 0, 0, ("\n",)), ("XX", 0, 0, ("x" * 250,)), ("IDX", 0, 0, ())],
)  # fmt: skip
def test_what_would_be_no_line_is_not_written(kind: str, seq: int, now: int, fields: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match=r"."):
        encode(kind, seq, now, *fields)
