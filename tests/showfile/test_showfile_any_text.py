"""Whatever a show file holds, it is read or refused; it never brings the program down."""

from __future__ import annotations

import random
from collections.abc import Callable

from hypothesis import given, settings
from hypothesis import strategies as st
from showfile_texts import VALID

from interlock.errors import ShowFileError
from interlock.showfile.load import load_show, parse_show
from interlock.showfile.show import Show

VALUES = st.sampled_from(
    r'''1 -1 1e400 nan true "" "x" "2_s" "2_ft" "18+00" "90_deg" "1_%" [] [1] ["a"] {} {a=1} {signal=1} 1979-05-27
    07:32:00 2026-12-05T19:25:00Z 0xFFFFFFFFFFFF "\u0000" "\u202e" "4>3.tight" "!!4.run" "feed" 24_fps [[
    999999999999999999999999999999 """ #'''.replace("_", " ").split()
)
ROWS = VALID.rstrip("\n").split("\n")


def refusal(read: Callable[[], Show]) -> ShowFileError | None:
    """None if it is read; anything but a refusal goes through and fails the test."""
    try:
        read()
    except ShowFileError as e:
        return e
    return None


def read_or_refused(text: str) -> ShowFileError | None:
    refused = refusal(lambda: parse_show(text, "evening.toml"))
    if refused is not None:
        assert refused.mistakes
        last = text.count("\n") + 1
        for mistake in refused.mistakes:
            assert 0 <= mistake.line <= last
            assert mistake.key
            assert mistake.text.isprintable()
            assert "\n" not in mistake.key
            assert "object at 0x" not in mistake.text
    return refused


@given(st.text(max_size=300))
def test_text_that_is_no_show_is_refused(text: str) -> None:
    assert read_or_refused(text) is not None


@settings(max_examples=400)
@given(st.lists(st.tuples(st.integers(0, len(ROWS) - 1), VALUES), min_size=1, max_size=4))
def test_a_show_with_any_values_is_read_or_refused(changes: list[tuple[int, str]]) -> None:
    rows = list(ROWS)
    for i, value in changes:
        key, equals, _ = rows[i].partition("=")
        rows[i] = f"{key}{equals} {value}" if equals else value
    read_or_refused("\n".join(rows))


@settings(max_examples=200)
@given(st.lists(st.integers(0, len(ROWS) - 1), min_size=1, max_size=12), st.randoms(use_true_random=False))
def test_a_show_with_lines_lost_doubled_or_moved_is_read_or_refused(
    at: list[int], rng: random.Random
) -> None:
    rows = list(ROWS)
    for i in at:
        j = i % len(rows)
        what = rng.randrange(3)
        if what == 0:
            del rows[j]
        elif what == 1:
            rows.insert(rng.randrange(len(rows)), rows[j])
        else:
            rows[j], rows[j - 1] = rows[j - 1], rows[j]
        rows = rows or [""]
    read_or_refused("\n".join(rows))


@settings(max_examples=200)
@given(st.binary(max_size=200), st.integers(0, len(VALID)))
def test_any_bytes_in_a_file_are_read_or_refused(tmp_path_factory, junk: bytes, at: int) -> None:
    file = tmp_path_factory.getbasetemp() / "junk.toml"
    raw = VALID.encode()
    file.write_bytes(raw[:at] + junk + raw[at:])
    refused = refusal(lambda: load_show(file))
    assert refused is None or refused.mistakes
