"""``[[distance]]``: what was measured between houses that are no neighbours now."""

from __future__ import annotations

from importlib.resources import files

import pytest

from interlock.errors import ShowFileError
from interlock.showfile.load import parse_show
from interlock.showfile.show import Distance, Show

SHOW = files("configs").joinpath("six-house.toml").read_text("utf-8")


def with_distances(text: str) -> Show:
    return parse_show(SHOW + "\n" + text, "show.toml")


def ends(k: int) -> tuple[str, str]:
    houses = with_distances("").houses
    return houses[0].id, houses[k].id


def test_distances_are_read_in_frames_through_the_pitch() -> None:
    a, b = ends(2)
    show = with_distances(
        f'[[distance]]\nfrom = "{a}"\nto = "{b}"\npath = "74 ft"\nrollers = [90, 45]\ncrosses = ["stair"]\n'
        f'[[distance]]\nfrom = "{b}"\nto = "{a}"\npossible = false\n'
        f'[[distance]]\nfrom = "feed"\nto = "{b}"\npath = "1.9 m"\n'
    )
    assert show.distances == (
        Distance(a, b, pytest.approx(74 * 304.8 / 19.0), 2, ("stair",)),
        Distance(b, a, None),
        Distance("feed", b, 100.0, None, None),
    )


def test_mistakes_are_found_by_line_with_the_remedy() -> None:
    a, b = ends(2)
    first = SHOW.count("\n") + 2
    with pytest.raises(ShowFileError) as caught:
        with_distances(
            f'[[distance]]\nfrom = "{a}"\nto = "{b}"\npath = "74 ft"\n'
            f'[[distance]]\nfrom = "{a}"\nto = "{b}"\npath = 74\n'
            f'[[distance]]\nfrom = "{a}"\nto = "{a}"\npath = "1 ft"\n'
            f'[[distance]]\nfrom = "{a}"\nto = "none"\npath = "1 ft"\n'
            f'[[distance]]\nfrom = "{b}"\nto = "{a}"\n'
            f'[[distance]]\nfrom = "{b}"\nto = "feed"\npath = "1 ft"\nroller = 3\n'
        )
    found = {m.line - first: m.text for m in caught.value.mistakes}
    assert "a second time" in found[6]
    assert "without a unit" in found[7]
    assert "two different houses" in found[10]
    assert 'no house "none"' in found[14]
    assert "possible = false" in found[16]
    assert "film runs from" in found[21]
    assert "unknown key" in found[23]
