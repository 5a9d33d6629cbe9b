"""The calendar file, read back by another program's parser."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import icalendar
from hypothesis import given
from hypothesis import strategies as st
from threading_shows import a_show

from interlock.plan.ical import calendar
from interlock.plan.times import clocks
from interlock.showfile.show import Show

STAMP_S = 1_790_000_000.0


def events(show: Show) -> list[icalendar.Event]:
    """What ``icalendar`` finds in the file."""
    return icalendar.Calendar.from_ical(calendar(show, STAMP_S)).walk("VEVENT")  # type: ignore[return-value]


def test_another_parser_finds_one_event_a_house_and_one_a_time() -> None:
    show = a_show(3)
    found = events(show)
    assert len(found) == 3 * (1 + 8)
    spans = [event for event in found if "DTEND" in event]
    assert [str(event["SUMMARY"]) for event in spans] == [f"House {k}: Nine Umbrellas" for k in (1, 2, 3)]
    for event, clock in zip(spans, clocks(show), strict=True):
        assert clock.doors_s is not None
        start = datetime.fromtimestamp(show.motor_start_wall_s, UTC)
        half_a_second = timedelta(seconds=0.5)
        assert abs(event["DTSTART"].dt - (start + timedelta(seconds=clock.doors_s))) <= half_a_second
        assert abs(event["DTEND"].dt - (start + timedelta(seconds=clock.clear_s))) <= half_a_second
        assert "first picture: " in str(event["DESCRIPTION"])


def test_every_event_has_what_the_standard_requires_and_a_uid_of_its_own() -> None:
    """RFC 5545, 3.6.1: UID and DTSTAMP are required, DTSTART where there is no METHOD."""
    found = events(a_show(3))
    assert len({str(event["UID"]) for event in found}) == len(found)
    assert all(event["DTSTAMP"].dt == datetime.fromtimestamp(STAMP_S, UTC) for event in found)
    assert all("DTSTART" in event for event in found)


def test_the_same_plan_keeps_its_uids_so_that_it_replaces_itself() -> None:
    first, again = ([str(e["UID"]) for e in events(a_show(2, tail=tail))] for tail in ("150 ft", "160 ft"))
    assert first == again


def test_times_are_right_over_a_change_of_clocks() -> None:
    show = a_show(2, motor_start="2027-03-28T00:30:00", timezone="Europe/Lisbon")
    motors = [event for event in events(show) if str(event["SUMMARY"]).endswith(": motor")]
    assert [event["DTSTART"].dt for event in motors] == [datetime(2027, 3, 28, 0, 30, tzinfo=UTC)] * 2


def test_lines_are_ended_and_folded_as_the_standard_says() -> None:
    """RFC 5545, 3.1: CRLF; at most 75 octets a line."""
    text = calendar(a_show(2, title="Märchen, der Schneeköniginnen; ein langer Titel " + "ü" * 30), STAMP_S)
    lines = text.encode().split(b"\r\n")
    assert lines[-1] == b""
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75


@given(st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=70))
def test_any_title_comes_back_as_it_was(title: str) -> None:
    show = a_show(2)
    import msgspec  # noqa: PLC0415

    named = msgspec.structs.replace(show, title=title)
    assert str(events(named)[0]["SUMMARY"]) == f"House 1: {title}"
