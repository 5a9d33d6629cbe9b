"""Distances from a CSV, as a spreadsheet writes them, with every mistake by its line."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import FileMistakes, Mistake, UsageError
from interlock.film import FORMATS
from interlock.plan.route_csv import parse_distances, read_distances
from interlock.plan.route_survey import IMPOSSIBLE, Leg

FILM = FORMATS["35mm-4p"]


def fr(ft: float) -> float:
    """Tape feet through the pitch: 304.8 / 19.00 frames each ([P] frame-pitch tables, [D])."""
    return pytest.approx(ft * 304.8 / 19.0)  # type: ignore[no-any-return]


def mistakes(text: str) -> list[tuple[int, str]]:
    with pytest.raises(FileMistakes) as caught:
        parse_distances(text, "booth.csv", FILM)
    assert all(line.startswith("booth.csv:") for line in str(caught.value).splitlines())
    return [(m.line, m.key) for m in caught.value.mistakes]


def test_a_list_is_read_with_rollers_and_crossings() -> None:
    legs = parse_distances(
        "from,to,ft,rollers,crosses\n4,3,74,9,doorway\n4,1,140.5,17,corridor + stair\n2,5,x,,\n3,1,20,,\n",
        "f",
        FILM,
    )
    assert legs["4", "3"] == Leg(fr(74.0), 9, ("doorway",))
    assert legs["4", "1"] == Leg(fr(140.5), 17, ("corridor", "stair"))
    assert legs["2", "5"] == IMPOSSIBLE
    assert legs["3", "1"] == Leg(fr(20.0), None, ())


def test_columns_may_stand_in_any_order_and_be_left_out() -> None:
    legs = parse_distances("m,to,from\n22.6,3,4\n", "f", FILM)
    assert legs == {("4", "3"): Leg(pytest.approx(22_600.0 / 19.0), None, None)}


def test_a_matrix_is_read_from_the_row_to_the_column() -> None:
    legs = parse_distances("ft,4,3,2\n4,,74,120\n3,,0,61\n2,,x,-\n", "f", FILM)
    assert legs == {
        ("4", "3"): Leg(fr(74.0)),
        ("4", "2"): Leg(fr(120.0)),
        ("3", "2"): Leg(fr(61.0)),
        ("2", "3"): IMPOSSIBLE,
    }


def test_a_spreadsheet_with_semicolons_and_decimal_commas_is_understood(tmp_path: Path) -> None:
    file = tmp_path / "booth.csv"
    file.write_bytes("\ufefffrom;to;m;rollers\r\n4;3;22,6;9\r\n".encode())
    assert read_distances(file, FILM) == {("4", "3"): Leg(pytest.approx(22_600.0 / 19.0), 9, None)}


def test_every_mistake_of_a_list_is_said_in_one_go_by_its_line() -> None:
    text = "from,to,ft,rollers\n4,3,74,9\n4,3,75,9\n4,4,10,1\n4,2,seventy,2\n4,1,-3,1\n3,1,10,many\n3,2,,4\n2,1,5,1,1\n"
    assert mistakes(text) == [
        (3, "4>3"),
        (4, "4>4"),
        (5, "ft"),
        (6, "ft"),
        (7, "rollers"),
        (8, "ft"),
        (9, "row"),
    ]


def test_every_mistake_of_a_matrix_is_said_in_one_go_by_its_line() -> None:
    assert mistakes("m,4,3,3\n4,7,oops,1\n3,1,,2,9\n") == [(1, "3"), (2, "4>3"), (2, "4>4"), (3, "3")]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", [(1, "file")]),
        ("\n\n", [(1, "file")]),
        ("houses,4,3\n", [(1, "houses")]),
        ("from,to\n4,3\n", [(1, "ft")]),
        ("from,ft,m\n4,3,1\n", [(1, "ft"), (1, "to")]),
        ("from,to,ft,wheels\n", [(1, "wheels")]),
        (
            "from,to,ft\n3,feed,10\ntake-up,3,10\nfeed,take-up,9\n",
            [(2, "3>feed"), (3, "take-up>3"), (4, "feed>take-up")],
        ),
    ],
)
def test_a_table_that_is_none_is_refused_with_its_place(text: str, found: list[tuple[int, str]]) -> None:
    assert mistakes(text) == found


def test_a_file_that_is_not_there_or_no_text_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be read"):
        read_distances(tmp_path / "none.csv", FILM)
    file = tmp_path / "latin.csv"
    file.write_bytes(b"from,to,ft\n4,3,74\n4,\xe9,3\n")
    with pytest.raises(FileMistakes, match=r"latin\.csv:3: text: .*UTF-8"):
        read_distances(file, FILM)


def test_what_a_terminal_would_obey_does_not_come_out_of_it() -> None:
    with pytest.raises(FileMistakes) as caught:
        parse_distances("from,to,ft\n4,3,\x1b[31mred\n", "booth.csv", FILM)
    assert "\x1b" not in str(caught.value)


@given(st.text(alphabet=st.sampled_from('from,to;ft\n\r"x-4.321é\x00\x1b m'), max_size=120))
def test_anything_at_all_is_either_read_or_refused_with_lines(text: str) -> None:
    refused: tuple[Mistake, ...] = ()
    legs: dict[tuple[str, str], Leg] = {}
    try:
        legs = parse_distances(text, "f", FILM)
    except FileMistakes as error:
        refused = error.mistakes
    assert all(m.line >= 1 and m.text for m in refused)
    assert refused or all(leg.film_fr > 0.0 for leg in legs.values())
