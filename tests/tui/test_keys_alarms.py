"""The keys for alarms, pressed on the running program."""

from __future__ import annotations

import pytest
from screen_running import running


async def test_a_acknowledges_the_worst_alarm_that_asks_and_then_only_the_picked_one() -> None:
    async with running("flood") as r:
        await r.press("a")
        assert r.sent() == [{"action": "ack", "subject": "2", "code": "run-lost"}]
        await r.press("u", "u", "a")
        assert r.sent() == [{"action": "ack", "subject": "2>1", "code": "slack-lost"}]
        await r.press("i", "a")
        assert r.sent() == [{"action": "ack", "subject": "2", "code": "run-lost"}]


async def test_an_alarm_that_has_just_come_in_is_not_acknowledged_by_a_key_meant_for_another() -> None:
    async with running("flood") as r:
        r.clock.now -= 0.9
        await r.press("a")
        assert r.sent() == []
        assert "just come in" in r.text("message")


async def test_an_alarm_acknowledged_already_is_not_acknowledged_again() -> None:
    async with running("flood") as r:
        await r.press("u", "u", "u", "u", "u", "a")
        assert r.sent() == []
        assert "lamp out house 5 is acknowledged already" in r.text("message")


async def test_v_shelves_with_an_end_in_minutes_and_takes_back_what_is_shelved() -> None:
    async with running("flood") as r:
        await r.press("v", "2", "5", "enter")
        assert r.sent() == [{"action": "shelve", "subject": "2", "code": "run-lost", "for_s": 1500.0}]
        await r.press(*["u"] * 9, "v")
        assert r.sent() == [{"action": "unshelve", "subject": "4", "code": "lamp-against-dowser"}]


@pytest.mark.parametrize("typed", ["0", "x", "9999", "-"])
async def test_a_shelf_without_a_sensible_end_is_refused_and_asked_again(typed: str) -> None:
    async with running("flood") as r:
        await r.press("v", *["minus" if c == "-" else c for c in typed], "enter")
        assert r.sent() == []
        assert r.asking
        await r.press("escape")
        assert not r.asking


async def test_c_resets_the_picked_alarm_and_g_its_group() -> None:
    async with running("flood") as r:
        await r.press("c")
        assert r.sent() == []
        await r.press("u", "c", "g")
        assert r.sent() == [
            {"action": "reset", "subject": "2", "code": "run-lost"},
            {"action": "reset", "group": 39900},
        ]
