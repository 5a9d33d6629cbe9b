"""Text from outside reaches a terminal as text and as nothing else."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.text import LIMIT, clean


@pytest.mark.parametrize(
    ("outside", "inside"),
    [
        ("House 4", "House 4"),
        ("  House \t 4\r\n", "House 4"),
        ("\x1b[31mred\x1b[0m", "red"),
        ("\x9b1;31mred", "red"),
        ("\x1b]0;new title\x07north", "north"),
        ("\x1b]8;;https://example.org\x1b\\link\x1b]8;;\x1b\\", "link"),
        ("\x1bcnorth", "north"),
        ("bell\x07 back\x08 nul\x00 del\x7f", "bell back nul del"),
        ("abc\u202edcba\u202c", "abcdcba"),
        ("\u2066hidden\u2069 zero\u200bwidth\ufeff", "hidden zerowidth"),
        ("line\u2028para\u2029end", "line para end"),
        ("\ud800lone", "lone"),
        ("Kino Größe, 映写", "Kino Größe, 映写"),
        ("cafe\u0301", "café"),
        ("[bold]not markup[/]", "[bold]not markup[/]"),
        ("\u3164\u2800", ""),
    ],
)
def test_only_what_can_be_read_is_left(outside: str, inside: str) -> None:
    assert clean(outside) == inside


def test_an_unfinished_title_sequence_does_not_swallow_what_follows() -> None:
    assert clean("\x1b]north booth") == "north booth"


def test_long_text_is_cut_and_says_so() -> None:
    assert clean("x" * 300) == "x" * (LIMIT - 1) + "…"
    assert clean("word word", 6) == "word…"
    assert clean("abc", 0) == ""


def test_accents_are_not_piled_up_over_the_line_above() -> None:
    piled = clean("e" + "\u0316" * 50)
    assert sum(unicodedata.category(c) == "Mn" for c in piled) == 4


@given(st.text(st.characters(exclude_categories=()), max_size=300), st.integers(0, 50))
def test_whatever_comes_is_one_short_line_of_printable_characters(text: str, limit: int) -> None:
    cleaned = clean(text, limit)
    assert len(cleaned) <= limit
    assert cleaned == cleaned.strip()
    assert all(c == " " or unicodedata.category(c)[0] not in "CZ" for c in cleaned)
    cleaned.encode()


@given(st.text(st.characters(exclude_categories=()), max_size=300), st.integers(0, 50))
def test_cleaning_what_is_clean_changes_nothing(text: str, limit: int) -> None:
    once = clean(text, limit)
    assert clean(once, limit) == once


def test_a_hostile_pile_of_sequence_beginnings_is_read_in_one_go() -> None:
    # quadratic matching would take minutes here
    assert clean("\x9d" * 200_000 + "\x1b]" * 200_000 + "north") == "north"
