"""Every screen at three sizes in every moment of the show, as the pictures that a person has looked at.

``make snapshots`` makes them anew, and build/snapshots.html, which shows what has changed, before and after: look at it
before it is committed.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from snapshot_cases import ALL_MOMENTS, CASES, KEYS, SNAPSHOTS, Case, pictures

MOST_BYTES = 6_000_000


@pytest.mark.parametrize("case", CASES, ids=[f"{c.name}-{c.screens[0]}" for c in CASES])
async def test_every_screen_looks_as_it_was_last_looked_at(case: Case) -> None:
    changed = []
    for name, picture in (await pictures(case)).items():
        path = SNAPSHOTS / name
        if not path.exists() or path.read_text(encoding="utf-8") != picture:
            changed.append(name)
    assert not changed, (
        f"these look different: {changed}. `make snapshots` writes them, and a page to look at"
    )


def test_there_is_a_picture_of_every_screen_at_three_sizes_in_every_moment_and_none_that_nobody_makes() -> (
    None
):
    made = {f"{screen}-{case.name}.svg" for case in CASES for screen in case.drawn}
    assert {p.name for p in SNAPSHOTS.iterdir()} == made
    for size in ("80x24-16", "120x30-6", "240x60-16"):
        for moment in ALL_MOMENTS:
            assert {f"{s}-{size}-{moment}.svg" for s in KEYS if s != "faults"} < made
            assert f"review-{size}-{moment}.svg" in made or moment == "desk-lost"
        assert f"faults-{size}-flood.svg" in made


def test_the_pictures_are_whole_fetch_nothing_and_are_not_too_large_to_keep() -> None:
    for path in SNAPSHOTS.iterdir():
        text = path.read_text(encoding="utf-8")
        assert ET.fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"
        assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
    assert sum(p.stat().st_size for p in SNAPSHOTS.iterdir()) < MOST_BYTES
