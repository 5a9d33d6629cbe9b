"""The board as data for a browser, for any state and any name."""

from __future__ import annotations

import json
import unicodedata

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st
from screen_states import layouts, states

from tui.browser import board_document
from tui.draw.runs import plain
from tui.draw.view import make_view
from tui.example.moments import MOMENTS
from tui.example.show import layout
from tui.look.palette import STYLES


def words(document: object) -> str:
    """All its text."""
    if isinstance(document, str):
        return document + "\n"
    if isinstance(document, dict):
        return "".join(words(v) for v in document.values())
    return "".join(words(v) for v in document) if isinstance(document, list) else ""


def drawn(moment: str, lost_s: float | None = None) -> dict[str, object]:
    lay = layout(6)
    view = make_view(lay, MOMENTS[moment](lay), lost_s=lost_s, age_s=0.1)
    return dict(json.loads(msgspec.json.encode(board_document(view))))


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_any_state_becomes_a_document_of_known_styles_without_control_characters(data: st.DataObject) -> None:
    lay = data.draw(layouts(most=4))
    state = data.draw(states(lay))
    lost_s = data.draw(st.sampled_from((None, 12.0)))
    document = json.loads(msgspec.json.encode(board_document(make_view(lay, state, lost_s=lost_s))))
    assert len(document["houses"]) == len(lay.houses)
    for block in (
        document["banner"], document["narrow"], document["ribbon"], document["alarms"], document["cues"],
        *(h["rows"] for h in document["houses"]), *(h["loop"] for h in document["houses"]),
    ):  # fmt: skip
        for row in block:
            for text, style in row:
                assert style in STYLES
                assert not any(unicodedata.category(c) in ("Cc", "Cs") or c in "\u202e\u202d" for c in text)


def test_a_trip_is_on_the_page_in_the_banner_in_its_house_and_in_the_list() -> None:
    document = drawn("flood")
    assert "RUN LOST house 2" in words(document["banner"])
    assert "RUN LOST house 2" in words(document["alarms"])
    tiles = {h["house"]: h for h in document["houses"]}  # type: ignore[attr-defined]
    assert tiles["2"]["edge"] == "high-mark"
    assert "run lost" in words(tiles["2"]["rows"])


def test_a_page_on_which_no_key_acts_names_none() -> None:
    lay = layout(6)
    state = msgspec.structs.replace(MOMENTS["well"](lay), phase="waiting", show_s=None, plan_s=-20.0)
    view = make_view(lay, state, age_s=0.1, disarmed=True)
    document = board_document(view)
    for banner in (document.banner, document.narrow):
        assert "NOT ARMED" in plain(banner)
        assert "r arms" not in plain(banner)


def test_a_narrow_window_has_a_banner_that_can_be_read_there() -> None:
    narrow = drawn("flood")["narrow"]
    assert "RUN LOST house 2" in words(narrow)
    assert max(sum(len(text) for text, _ in row) for row in narrow) <= 46  # type: ignore[attr-defined]


def test_of_a_lost_desk_nothing_is_told_as_known() -> None:
    document = drawn("well", lost_s=12.0)
    assert document["known"] is False
    assert "DESK NOT HEARD" in words(document["banner"])
    assert "all well" not in words(document)
    for house in document["houses"]:  # type: ignore[attr-defined]
        assert "gate not known" in words(house["rows"])
