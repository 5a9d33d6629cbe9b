"""A flood of alarms is marked while it stands, and its list folded so that it stays readable."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rig import Rig, make_show

from interlock.watch.flood import FLOOD_ENDS_BELOW, FLOOD_STARTS_ABOVE, WINDOW_S, FloodWatch, fold_alarms
from interlock.watch.inputs import Tick
from interlock.watch.state import AlarmLine, AlarmPhase, Priority

times_s = st.lists(st.floats(0.0, 5000.0), max_size=80).map(sorted)


def _line(
    code: str, subject: str, *, group: int | None = None, first_out: bool = False, priority: Priority = "medium",
    state: AlarmPhase = "unacknowledged", active: bool = True,
) -> AlarmLine:  # fmt: skip
    return AlarmLine(
        seq=0, at="2026-12-05T19:00:00.000Z", show_s=0.0, code=code, subject=subject, state=state, priority=priority,
        first_out=first_out, group=group, text="", values={}, active=active,
    )  # fmt: skip


def test_the_rule_is_that_of_the_standard() -> None:
    # [P] reference.md: a flood starts above 10 in 10 min and ends below 5 in 10 min (ISA-18.2-2016 §16.4).
    assert (FLOOD_STARTS_ABOVE, FLOOD_ENDS_BELOW, WINDOW_S) == (10, 5, 600.0)


def test_the_eleventh_alarm_within_ten_minutes_makes_a_flood_and_it_ends_when_four_are_left() -> None:
    watch = FloodWatch()
    for n in range(10):
        watch.came(60.0 + n)
    assert watch.standing(69.0) is None
    watch.came(70.0)
    flood = watch.standing(70.0)
    assert flood is not None
    assert (flood.start_s, flood.alarms, watch.recent(70.0)) == (60.0, 11, 11)
    # The last four came at 67 … 70: when that of 66 is ten minutes old, four are left.
    assert flood.end_s == pytest.approx(666.0)
    assert watch.standing(665.9) is not None
    assert watch.standing(666.0) is None


def test_eleven_in_a_little_more_than_ten_minutes_are_no_flood() -> None:
    watch = FloodWatch()
    for n in range(11):
        watch.came(n * 60.0)
    assert watch.standing(600.0) is None


def test_an_alarm_counts_once_while_it_is_active_whatever_else_becomes_of_it() -> None:
    watch = FloodWatch()
    for n in range(30):
        watch.heard(float(n), _line("slack-low", "4>3", state="acknowledged" if n % 2 else "unacknowledged"))
    assert watch.recent(30.0) == 1
    watch.heard(31.0, _line("slack-low", "4>3", state="returned-unacknowledged", active=False))
    watch.heard(32.0, _line("slack-low", "4>3"))
    assert watch.recent(32.0) == 2
    watch.heard(33.0, _line("slack-low", "3>2", state="shelved"))
    assert watch.recent(33.0) == 2  # what is shelved asks nobody


def _floods_event_by_event(times: list[float]) -> list[tuple[float, float, int]]:
    """The rule written out: every alarm that comes, and every one that becomes ten minutes old, is an event of its own."""
    floods: list[tuple[float, float, int]] = []
    inside: list[float] = []
    start_s, count = -1.0, 0
    for t, change in sorted([(t, 1) for t in times] + [(t + WINDOW_S, -1) for t in times]):
        if change > 0:
            inside.append(t)
            count += start_s >= 0.0
            if start_s < 0.0 and len(inside) > 10:
                start_s, count = inside[0], len(inside)
        else:
            inside.pop(0)
            if start_s >= 0.0 and len(inside) < 5:
                floods.append((start_s, t, count))
                start_s = -1.0
    return floods


@given(times_s)
def test_floods_are_those_of_the_rule_written_out_event_by_event(times: list[float]) -> None:
    watch = FloodWatch()
    found = [f for t in times if (f := watch.came(t)) is not None]
    found += [watch.last] if watch.last is not None else []
    assert [(f.start_s, f.end_s, f.alarms) for f in found] == _floods_event_by_event(times)


@given(times_s, st.lists(st.floats(0.0, 6000.0), max_size=20))
def test_asking_changes_nothing(times: list[float], asked: list[float]) -> None:
    watch, twin = FloodWatch(), FloodWatch()
    for n, t in enumerate(times):
        twin.standing(t + (asked[n % len(asked)] if asked else 0.0))
        twin.recent(t)
        assert watch.came(t) == twin.came(t)
    assert watch.last == twin.last


@given(
    st.lists(st.tuples(st.sampled_from("ab"), st.integers(1, 6), st.sampled_from([None, 1, 2])), max_size=20)
)
def test_folding_loses_no_alarm_and_hides_none_behind_a_lesser(
    given_: list[tuple[str, int, int | None]],
) -> None:
    priorities: tuple[Priority, ...] = ("high", "medium", "low")
    alarms = [
        _line(code, str(n), group=group, priority=priorities[n % 3], first_out=n == 1)
        for code, n, group in given_
    ]
    folds = fold_alarms(alarms)
    assert Counter(id(a) for f in folds for a in f.members) == Counter(id(a) for a in alarms)
    for f in folds:
        assert all(priorities.index(f.head.priority) <= priorities.index(a.priority) for a in f.rest)
        assert len({a.group for a in f.members} if f.by == "group" else {a.code for a in f.members}) == 1


def test_a_stop_and_what_followed_from_it_are_one_line_and_the_same_code_on_many_another() -> None:
    stop = _line("run-lost", "4", group=7, first_out=True, priority="high")
    loops = [_line("slack-lost", s, group=7, priority="high") for s in ("5>4", "4>3")]
    dark = [_line("lamp-left-on", str(n), group=20 + n, first_out=True, priority="low") for n in range(3)]
    alone = _line("gate-heat", "9", group=30, first_out=True, priority="high")
    folds = fold_alarms([loops[0], stop, alone, loops[1], *dark])
    assert [(f.head.code, f.head.subject, f.count, f.by) for f in folds] == [
        ("run-lost", "4", 3, "group"), ("gate-heat", "9", 1, None), ("lamp-left-on", "0", 3, "code"),
    ]  # fmt: skip


def test_what_was_put_aside_folds_only_with_its_like() -> None:
    folds = fold_alarms(
        [
            _line("blind", "4>3"),
            _line("blind", "3>2", state="shelved"),
            _line("blind", "2>1", state="shelved"),
        ]
    )
    assert [(f.head.subject, f.count) for f in folds] == [("4>3", 1), ("3>2", 2)]


def test_the_desk_marks_a_flood_in_its_state_and_on_every_alarms_line_until_it_ends() -> None:
    rig = Rig(make_show(9, minutes=20.0))
    rig.start(60.0)
    rig.go(70.0)
    assert rig.desk.state().flood is None
    # One after the other they stop: every house alarms, and many a loop.
    for k, truth in enumerate(rig.truth):
        truth.spans = [(60.0, 75.0 + 0.9 * k)]
    rig.go(90.0)
    came = [x for x in rig.of(AlarmLine) if x.state == "unacknowledged"]
    assert len(came) > 10
    state = rig.desk.state()
    assert state.flood is not None
    assert state.flood.alarms == state.flood.recent == len(came)
    assert state.flood.since_at == came[0].at
    assert [x.flood for x in came] == [n >= 10 for n in range(len(came))]
    assert 0 < len(fold_alarms(state.alarms)) < len(state.alarms)
    rig.feed(Tick(75.0 + WINDOW_S + 30.0))
    assert rig.desk.state().flood is None
