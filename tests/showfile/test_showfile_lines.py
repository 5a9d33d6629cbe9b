"""Every key of a TOML text has its line."""

from __future__ import annotations

import string
import tomllib

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st
from showfile_texts import VALID

from interlock.showfile.toml_lines import Path, key_lines, read_toml

TEXT = '''\
# a comment with [brackets] = "and quotes
a = 1
"q.k" = "x # not [ a comment"   # c
d.e.f = { x = 1, "y" = [1,
 2, """
 hi "" ] """, {z=2026-01-01 10:00:00}] }
g = \'\'\'
[[house]]
id = 1
\'\'\'
[show]
chain = [ "4", # c
  '3',
  ]
[[house]]
id="4"
[house.sub]
k=1
[[house]]
id = "5"
[[house.x]]
b=1
[[house.x]]
b=2
[ adapter . "le\\u0076els" ]
0 = "x"
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("a",), 2),
        (("q.k",), 3),
        (("d", "e", "f", "x"), 4),
        (("d", "e", "f", "y", 0), 4),
        (("d", "e", "f", "y", 1), 5),
        (("d", "e", "f", "y", 3, "z"), 6),
        (("show",), 11),
        (("show", "chain", 1), 13),
        (("house", 0), 15),
        (("house", 0, "id"), 16),
        (("house", 0, "sub", "k"), 18),
        (("house", 1), 19),
        (("house", 1, "x", 0, "b"), 22),
        (("house", 1, "x", 1, "b"), 24),
        (("adapter", "levels", "0"), 26),
    ],
)
def test_a_key_stands_where_it_stands(path: Path, line: int) -> None:
    assert key_lines(TEXT)[path] == line


def paths(value: object, path: Path = ()) -> set[Path]:
    """Every path into parsed data."""
    below: list[tuple[str | int, object]] = []
    if isinstance(value, dict):
        below = list(value.items())
    elif isinstance(value, list):
        below = list(enumerate(value))
    return {(*path, k) for k, _ in below} | {p for k, v in below for p in paths(v, (*path, k))}


@pytest.mark.parametrize("text", [TEXT, VALID], ids=["odd", "a show"])
def test_no_key_is_without_a_line_and_no_line_without_a_key(text: str) -> None:
    assert set(key_lines(text)) == paths(tomllib.loads(text))


KEYS = st.text(string.ascii_letters + string.digits + '-_."#[]= é', min_size=1, max_size=6)
SCALARS = st.one_of(
    st.integers(-(2**40), 2**40),
    st.booleans(),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=10),
    st.datetimes(),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=3)),
    max_leaves=12,
)


@given(st.dictionaries(KEYS, VALUES, max_size=5))
def test_whatever_can_be_written_as_toml_has_all_its_lines(data: dict[str, object]) -> None:
    text = tomlkit.dumps(data)
    parsed = tomllib.loads(text)
    lines = key_lines(text)
    assert set(lines) == paths(parsed)
    rows = text.split("\n")
    for path, line in lines.items():
        plain = path[-1]
        if isinstance(plain, str) and plain.isascii() and plain.isalpha():
            assert plain in rows[line - 1]


@given(st.text(string.printable + "é\u202e", max_size=200))
def test_reading_any_text_ends_and_says_something(text: str) -> None:
    read = read_toml(text)
    assert read.mistakes or read.data == tomllib.loads(text.replace("\r\n", "\n"))
