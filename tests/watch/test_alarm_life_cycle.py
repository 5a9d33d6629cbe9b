"""The alarm's life cycle, cell by cell.

[P] Table of reference.md: "Alarm life cycle (states as in ISA-18.2 / IEC 62682; table from public
documentation of them, not the paid text)". TRIP and CLEAR are after deadband and delays; "–": nothing changes.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.watch.alarms import Alarm

LATCHING = "slack-lost"
PLAIN = "run-lost"

# state: (TRIP, CLEAR non-latching, CLEAR latching, ACK, RESET); None is "–".
TABLE: dict[str, tuple[str | None, str | None, str | None, str | None, str | None]] = {
    "normal": ("unacknowledged", None, None, None, None),
    "unacknowledged": (None, "returned-unacknowledged", "latched-unacknowledged", "acknowledged", None),
    "acknowledged": (None, "normal", "latched-acknowledged", None, None),
    "returned-unacknowledged": ("unacknowledged", None, None, "normal", None),
    "latched-unacknowledged": ("unacknowledged", None, None, "latched-acknowledged", None),
    "latched-acknowledged": ("unacknowledged", None, None, None, "normal"),
}
WAYS: dict[str, list[str]] = {
    "normal": [],
    "unacknowledged": ["trip"],
    "acknowledged": ["trip", "ack"],
    "returned-unacknowledged": ["trip", "clear"],
    "latched-unacknowledged": ["trip", "clear"],
    "latched-acknowledged": ["trip", "ack", "clear"],
}
QUIET = ["shelved", "suppressed", "out-of-service"]


def _in_state(state: str, *, latching: bool) -> Alarm:
    alarm = Alarm(LATCHING if latching else PLAIN, "4")
    for step in WAYS[state]:
        getattr(alarm, step)()
    assert alarm.state == state
    return alarm


def _kinds(state: str) -> list[bool]:
    if state.startswith("latched"):
        return [True]
    return [False] if state.startswith("returned") else [False, True]


@pytest.mark.parametrize("state", TABLE)
@pytest.mark.parametrize(
    ("column", "event"), list(enumerate(["trip", "clear", "clear-latching", "ack", "reset"]))
)
def test_every_cell_of_the_table(state: str, column: int, event: str) -> None:
    for latching in _kinds(state):
        if event.startswith("clear") and (event == "clear-latching") != latching:
            continue
        alarm = _in_state(state, latching=latching)
        changed = getattr(alarm, event.removesuffix("-latching"))()
        expected = TABLE[state][column]
        assert alarm.state == (expected or state)
        assert changed is (expected is not None)


def _quieten(alarm: Alarm, how: str, on: bool) -> None:
    if how == "shelved":
        _ = alarm.shelve(100.0) if on else alarm.unshelve()
    elif how == "suppressed":
        alarm.suppress(on)
    else:
        alarm.take_out(on)


@pytest.mark.parametrize("how", QUIET)
@pytest.mark.parametrize("state", [s for s in TABLE if not s.startswith("returned")])
def test_a_quiet_alarm_follows_its_condition_silently(state: str, how: str) -> None:
    alarm = _in_state(state, latching=True)
    _quieten(alarm, how, True)
    for event in ("trip", "clear", "trip", "clear"):
        getattr(alarm, event)()
        assert alarm.state == how


@pytest.mark.parametrize("how", QUIET)
@pytest.mark.parametrize("latching", [True, False])
@pytest.mark.parametrize("holds", [True, False])
def test_leaving_quiet_is_normal_if_the_condition_is_clear_and_unacknowledged_if_not(
    how: str, latching: bool, holds: bool
) -> None:
    for start in ("normal", "unacknowledged", "acknowledged"):
        alarm = _in_state(start, latching=latching)
        _quieten(alarm, how, True)
        _ = alarm.trip() if holds else alarm.clear()
        _quieten(alarm, how, False)
        assert alarm.state == ("unacknowledged" if holds else "normal")


@pytest.mark.parametrize("how", QUIET)
def test_a_quiet_alarm_takes_no_acknowledgement_and_no_reset(how: str) -> None:
    alarm = _in_state("unacknowledged", latching=True)
    _quieten(alarm, how, True)
    assert not alarm.ack()
    assert not alarm.reset()
    assert alarm.state == how


def test_a_shelf_until_clear_ends_when_the_condition_does() -> None:
    alarm = _in_state("unacknowledged", latching=False)
    alarm.shelve(100.0, until_clear=True)
    alarm.clear()
    assert alarm.state == "normal"
    assert alarm.shelved_until_s is None


EVENTS = ["trip", "clear", "ack", "reset", "shelve", "unshelve", "suppress", "bring-back"]


@given(latching=st.booleans(), events=st.lists(st.sampled_from(EVENTS), max_size=30))
def test_any_order_of_events_walks_only_along_the_table(latching: bool, events: list[str]) -> None:
    alarm = Alarm(LATCHING if latching else PLAIN, "4")
    for event in events:
        before = alarm.state
        holds = alarm.active
        if event == "shelve":
            alarm.shelve(1.0)
        elif event in ("suppress", "bring-back"):
            alarm.suppress(event == "suppress")
        else:
            getattr(alarm, event)()
        after = alarm.state
        if before in QUIET:
            assert after in (*QUIET, "unacknowledged" if alarm.active else "normal")
        elif after not in QUIET:
            column = ["trip", "clear", "clear-latching", "ack", "reset"]
            name = "clear-latching" if event == "clear" and latching else event
            expected = TABLE[before][column.index(name)] if name in column else None
            assert after == (expected or before)
        if event in ("ack", "reset"):
            assert alarm.active is holds
