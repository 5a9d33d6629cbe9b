"""What a screen keeps: newest state, alarms at once, how long the desk has been silent, when the bell rings."""

from __future__ import annotations

import msgspec

from interlock.watch.state import AlarmLine, ErrorLine, Farewell, Fresh, Happened, Hello, OperatorLine, State
from tui.example.moments import flood, well
from tui.example.show import layout, state_at
from tui.model import Model

LAY = layout(6)


def attached(state: State | None = None) -> Model:
    model = Model()
    model.take(Hello(LAY, state or well(LAY)), 100.0)
    return model


def alarm(seq: int, **keys: object) -> AlarmLine:
    return msgspec.structs.replace(flood(LAY).alarms[0], seq=seq, **keys)


def test_an_alarm_is_shown_at_once_and_not_only_with_the_next_state() -> None:
    model = attached()
    assert model.take(Happened(alarm(40_001)), 100.1) is True
    newest = model.newest()
    assert newest is not None
    assert [a.code for a in newest.alarms] == ["run-lost"]
    model.take(Happened(alarm(40_002, state="normal", active=False)), 100.2)
    newest = model.newest()
    assert newest is not None
    assert newest.alarms == ()


def test_a_line_older_than_the_state_changes_nothing() -> None:
    model = attached()
    assert model.take(Happened(alarm(39_000)), 100.1) is False
    assert model.newest() == well(LAY)


def test_the_next_state_takes_the_place_of_the_lines_before_it() -> None:
    model = attached()
    model.take(Happened(alarm(40_001)), 100.1)
    model.take(Fresh(msgspec.structs.replace(well(LAY), seq=40_050)), 100.3)
    newest = model.newest()
    assert newest is not None
    assert newest.alarms == ()


def test_house_link_and_phase_lines_are_laid_over_the_state_too() -> None:
    model = attached()
    house = msgspec.structs.replace(well(LAY).houses[2], seq=40_001, run=False)
    link = msgspec.structs.replace(well(LAY).links[1], seq=40_002, state="parted", drift_fr=None)
    model.take(Happened(house), 100.1)
    model.take(Happened(link), 100.1)
    newest = model.newest()
    assert newest is not None
    assert newest.houses[2].run is False
    assert newest.links[1].state == "parted"
    assert newest.houses[1] == well(LAY).houses[1]


def test_only_a_new_high_alarm_calls() -> None:
    for change in ({"priority": "medium"}, {"state": "acknowledged"}, {"state": "shelved"}):
        model = attached()
        assert model.take(Happened(alarm(40_001, **change)), 100.1) is False


def test_the_bell_goes_on_until_it_is_acknowledged_or_silenced_and_silence_acknowledges_nothing() -> None:
    model = attached(flood(LAY))
    assert model.asks_bell()
    quiet = msgspec.structs.replace(flood(LAY), silenced=True)
    model.take(Fresh(quiet), 100.2)
    assert not model.asks_bell()
    assert model.newest() == quiet
    taken = tuple(msgspec.structs.replace(a, state="acknowledged") for a in flood(LAY).alarms)
    assert not attached(msgspec.structs.replace(flood(LAY), alarms=taken)).asks_bell()


def test_a_desk_that_is_silent_for_two_seconds_is_lost_and_comes_back_with_its_next_frame() -> None:
    model = attached()
    assert model.lost_s(102.0) is None
    assert model.lost_s(103.5) == 3.5
    model.take(Fresh(well(LAY)), 104.0)
    assert model.lost_s(104.1) is None


def test_after_a_farewell_nothing_is_known_until_the_next_hello() -> None:
    model = attached()
    model.take(Farewell("this screen was too slow"), 100.2)
    assert model.lost_s(100.3) is not None
    assert model.farewell == "this screen was too slow"
    model.take(Hello(LAY, well(LAY)), 101.0)
    assert model.lost_s(101.1) is None


def test_the_age_of_the_data_grows_between_two_states() -> None:
    model = attached()
    assert model.age_s(100.5) == 0.06 + 0.5


def test_what_the_desk_refuses_is_kept_as_an_answer() -> None:
    model = attached()
    model.take(Happened(OperatorLine(seq=40_001, at="", show_s=None, action="arm", refused="it runs")), 100.1)
    assert model.answer == "arm refused: it runs"
    model.take(Happened(ErrorLine(seq=40_002, at="", show_s=None, text="no such house")), 100.1)
    assert model.answer == "refused: no such house"


def test_the_periodic_lines_are_not_happenings() -> None:
    model = attached()
    model.take(Happened(msgspec.structs.replace(well(LAY).houses[0], seq=40_001, periodic=True)), 100.1)
    assert len(model.log) == 0


def test_drift_is_kept_a_point_a_second_whatever_the_rate_of_the_states() -> None:
    model = Model()
    model.take(Hello(LAY, state_at(LAY, 10.0)), 0.0)
    for n in range(1, 41):
        model.take(Fresh(state_at(LAY, 10.0 + n / 4, seq=n)), n / 4)
    assert [p[0] for p in model.drifts["4>3"]] == [10.0 + n for n in range(11)]


def test_a_screen_that_comes_late_has_what_happened_before_it_in_its_record_and_is_called_by_none_of_it() -> (
    None
):
    model = Model()
    refused = OperatorLine(seq=38_000, at="a", show_s=1.0, action="arm", refused="it runs")
    past = (refused, alarm(39_000))
    assert model.take(Hello(LAY, well(LAY), past), 100.0) is False
    assert tuple(model.log) == past
    assert model.answer == "", "nobody is answered for what somebody else asked long ago"
    assert model.newest() == well(LAY)


def test_what_happened_while_a_screen_was_away_is_filled_in_once() -> None:
    model = attached()
    heard = alarm(40_001)
    model.take(Happened(heard), 100.1)
    missed = alarm(40_002, state="acknowledged")
    later = msgspec.structs.replace(well(LAY), seq=40_010)
    model.take(Hello(LAY, later, (heard, missed)), 130.0)
    model.take(Hello(LAY, later, (heard, missed)), 160.0)
    assert tuple(model.log) == (heard, missed)
