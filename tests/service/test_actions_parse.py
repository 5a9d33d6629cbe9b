"""Operator actions at the door: contract.md's table, key by key."""

from __future__ import annotations

import json

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.actions import MOST_BYTES, NAMES, parse_action
from interlock.errors import ActionError
from interlock.watch.inputs import Action

EVERY = [
    ({"action": "ack", "subject": "4>3", "code": "slack-low"}, {"subject": "4>3", "code": "slack-low"}),
    ({"action": "unshelve", "subject": "4", "code": "lamp-out"}, {"subject": "4", "code": "lamp-out"}),
    ({"action": "reset", "subject": "4>3", "code": "slack-lost"}, {"subject": "4>3", "code": "slack-lost"}),
    ({"action": "reset", "group": 17}, {"group": 17}),
    ({"action": "silence"}, {}),
    ({"action": "shelve", "subject": "4", "code": "x"}, {"subject": "4", "code": "x", "for_s": 600.0}),
    (
        {"action": "shelve", "subject": "4", "code": "x", "for_s": 30, "until_clear": True},
        {"subject": "4", "code": "x", "for_s": 30.0, "until_clear": True},
    ),
    ({"action": "note", "text": "splice in reel 2"}, {"text": "splice in reel 2"}),
    ({"action": "note", "text": "hot", "subject": "4"}, {"text": "hot", "subject": "4"}),
    ({"action": "mark", "house": "4"}, {"house": "4", "frame": 0.0}),
    ({"action": "mark", "house": "4", "frame": 2400}, {"house": "4", "frame": 2400.0}),
    ({"action": "relace", "house": "4", "n_fr": -12}, {"house": "4", "n_fr": -12.0}),
    ({"action": "rezero", "link": "4>3"}, {"link": "4>3", "drift_fr": 0.0}),
    ({"action": "rezero", "link": "4>3", "drift_fr": 3.5}, {"link": "4>3", "drift_fr": 3.5}),
    ({"action": "parted", "link": "4>3"}, {"link": "4>3"}),
    ({"action": "dark", "house": "4"}, {"house": "4"}),
    ({"action": "light", "house": "4"}, {"house": "4"}),
    ({"action": "arm"}, {}),
    ({"action": "disarm"}, {}),
    ({"action": "stop-all"}, {}),
    ({"action": "restart"}, {}),
    ({"action": "handover", "by": "Ilse"}, {"by": "Ilse"}),
    ({"action": "speed", "x": 20}, {"x": 20.0}),
]


@pytest.mark.parametrize(("given_", "keys"), EVERY, ids=lambda v: json.dumps(v)[:60])
def test_every_action_of_the_contract_is_understood_as_text_and_as_an_object(
    given_: dict[str, object], keys: dict[str, object]
) -> None:
    who = {"by": "Ilse", "booth": "north", **given_}
    for form in (json.dumps(who), json.dumps(who).encode(), who):
        assert parse_action(form, 12.5) == Action(
            at_s=12.5, action=str(given_["action"]), **{"by": "Ilse", "booth": "north", **keys}
        )


def test_every_action_is_in_the_table_above() -> None:
    assert {str(g["action"]) for g, _ in EVERY} | {"fault"} == set(NAMES)


def test_a_fault_is_a_line_of_a_scenario_with_its_keys_beside_or_together() -> None:
    fault = {"kind": "trip", "house": "3", "at": "00:12:30"}
    beside = parse_action({"action": "fault", "by": "Ilse", **fault}, 1.0)
    together = parse_action({"action": "fault", "by": "Ilse", "fault": fault}, 1.0)
    assert beside == together
    assert msgspec.json.decode(beside.fault or "") == fault
    assert (beside.by, beside.house) == ("Ilse", None)


def test_null_is_a_key_that_is_not_given() -> None:
    assert parse_action({"action": "mark", "house": "4", "frame": None, "by": None}, 0.0) == Action(
        0.0, "mark", house="4", frame=0.0
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "not JSON"),
        ("nonsense", "not JSON"),
        ("[1, 2]", "one JSON object"),
        ('"ack"', "one JSON object"),
        ("{}", 'a key "action"'),
        ('{"action": 7}', 'a key "action"'),
        ('{"action": "explode"}', "there is no action 'explode'"),
        ('{"action": "ack", "subject": "4"}', "ack: code: is missing"),
        ('{"action": "ack", "subject": 4, "code": "x"}', "subject: found 4"),
        ('{"action": "arm", "hous": "4"}', "hous: is no key of arm"),
        ('{"action": "reset"}', "needs subject and code, or group"),
        ('{"action": "reset", "subject": "4"}', "needs subject and code, or group"),
        ('{"action": "reset", "subject": "4", "code": "x", "group": 1}', "needs subject and code, or group"),
        ('{"action": "shelve", "subject": "4", "code": "x", "for_s": 0}', "for_s"),
        ('{"action": "shelve", "subject": "4", "code": "x", "for_s": 1e9}', "for_s"),
        ('{"action": "note", "text": "  "}', "text"),
        ('{"action": "note", "text": "\\u001b[2J"}', "text"),
        ('{"action": "mark", "house": "4", "frame": "many"}', "frame: found 'many'"),
        ('{"action": "mark", "house": "4", "frame": true}', "frame: found True"),
        ('{"action": "mark", "house": "4", "frame": NaN}', "not JSON"),
        ('{"action": "mark", "house": "4", "frame": 1e999}', "not JSON"),
        ('{"action": "relace", "house": "4"}', "n_fr: is missing"),
        ('{"action": "handover"}', "by: is missing"),
        ('{"action": "speed", "x": 0}', "x: found 0"),
        ('{"action": "speed", "x": -1}', "x: found -1"),
        ('{"action": "fault"}', "keys of a scenario"),
        ("[" * 60_000, "not JSON"),
        ('{"action": "note", "text": "' + "x" * MOST_BYTES + '"}', "longer than 65,536 bytes"),
    ],
)
def test_what_is_not_understood_is_refused_in_one_sentence(text: str, words: str) -> None:
    with pytest.raises(ActionError) as refused:
        parse_action(text, 0.0)
    said = str(refused.value)
    assert words in said
    assert "\n" not in said
    assert len(said) < 700


def test_text_from_outside_is_cleaned_and_capped_at_the_door() -> None:
    action = parse_action(
        {"action": "note", "text": "loop\x1b[31m tight\u202e" + "x" * 5000, "by": "I\nlse"}, 0.0
    )
    assert action.text is not None
    assert action.text.startswith("loop tightx")
    assert len(action.text) == 1000
    assert action.by == "I lse"


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(),
        lambda s: st.lists(s) | st.dictionaries(st.text(), s),
        max_leaves=8,
    )
)
def test_whatever_comes_is_an_action_or_one_sentence(value: object) -> None:
    for given_ in (value, {"action": value}, {"action": "mark", "house": value, "frame": value}):
        try:
            action = parse_action(given_, 0.0)
        except ActionError as error:
            assert "\n" not in str(error)  # noqa: PT017 - both ends are right, which is the point
        else:
            assert action.action in NAMES
