"""Measures of the alarm system, against the targets that reference.md quotes from ISA-18.2-2016 §16.4 [P]."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.incident.measures import measure
from interlock.watch.state import AlarmLine, Line, ShowLine

ZERO = datetime(2026, 12, 5, 19, 0, tzinfo=UTC)


def _at(s: float) -> str:
    return (ZERO + timedelta(seconds=s)).isoformat()


def _alarm(s: float, *, active: bool = True, code: str = "slack-low", subject: str = "4>3") -> AlarmLine:
    return AlarmLine(
        seq=0, at=_at(s), show_s=s, code=code, subject=subject,
        state="unacknowledged" if active else "returned-unacknowledged",
        priority="medium", first_out=False, group=None, text="", values={}, active=active,
    )  # fmt: skip


def _show(s: float) -> Line:
    return ShowLine(seq=0, at=_at(s), show_s=None, phase="waiting", title="t")


def test_a_quiet_show_has_no_alarms_and_no_flood() -> None:
    figures = measure([_show(0.0), _show(7200.0)])
    assert (figures.alarms, figures.per_10_min, figures.floods, figures.share) == (0, 0.0, (), {})


def test_the_average_is_alarms_in_ten_minutes_of_the_whole_show() -> None:
    figures = measure([_show(0.0), _alarm(100.0), _alarm(200.0, subject="3>2"), _show(6000.0)])
    assert figures.per_10_min == pytest.approx(0.2)
    assert figures.most_in_10_min == 2


def test_a_flood_starts_above_ten_in_ten_minutes_and_ends_below_five() -> None:
    eleven = [_alarm(60.0 + n, subject=str(n)) for n in range(11)]
    figures = measure([_show(0.0), *eleven, _show(3600.0)])
    assert len(figures.floods) == 1
    flood = figures.floods[0]
    assert (flood.start_s, flood.alarms) == (60.0, 11)
    # Fewer than five are left when the seventh of the eleven is ten minutes old.
    assert flood.end_s == pytest.approx(66.0 + 600.0)


def test_ten_in_ten_minutes_are_no_flood() -> None:
    ten = [_alarm(60.0 + n, subject=str(n)) for n in range(10)]
    assert measure([_show(0.0), *ten, _show(3600.0)]).floods == ()


def test_an_alarm_that_comes_three_times_in_a_minute_chatters_and_one_that_goes_at_once_is_fleeting() -> None:
    lines = [_show(0.0)]
    for n in range(3):
        lines += [_alarm(10.0 * n + 1.0), _alarm(10.0 * n + 2.0, active=False)]
    figures = measure([*lines, _show(600.0)])
    assert figures.chattering == (("slack-low", "4>3"),)
    assert figures.fleeting == 3


def test_an_alarm_that_nobody_puts_right_stands() -> None:
    figures = measure([_show(0.0), _alarm(10.0), _show(2000.0)])
    assert figures.standing == (("slack-low", "4>3"),)
    assert figures.share == {"medium": 1.0}


@given(st.lists(st.floats(0, 7200), max_size=60))
def test_floods_never_overlap_and_hold_more_than_ten_each(times: list[float]) -> None:
    lines = [_alarm(t, subject=str(n)) for n, t in enumerate(sorted(times))]
    figures = measure([_show(0.0), *lines, _show(7200.0)])
    assert figures.alarms == len(times)
    for flood in figures.floods:
        assert flood.alarms > 10
        assert flood.start_s <= flood.end_s
    for a, b in zip(figures.floods, figures.floods[1:], strict=False):
        assert a.end_s <= b.end_s
