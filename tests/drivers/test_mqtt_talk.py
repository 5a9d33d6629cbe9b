"""The talk of desk and station: nothing lost, nothing twice, everything dated; hostile payloads change nothing."""

from __future__ import annotations

import tempfile
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mqtt_line import OF, Line

from drivers.mqtt_words import Answer, Said, Status, encode
from interlock.signals import Contacts, Counts, Positions, Presence


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    made = Line(tmp_path)
    yield made
    made.close()


async def test_what_was_said_in_a_short_cut_is_told_in_order_with_its_true_time(line: Line) -> None:
    await line.run(1.0)
    line.contact(False)
    line.passes = lambda kind: False
    await line.run(2.0)
    turned_s = line.contact(True)
    line.count(1.0)
    await line.run(3.0)
    said = len(line.said)
    line.passes = lambda kind: True
    line.count(2.0)
    await line.run(0.5)
    told = [r for r in line.said[said:] if not isinstance(r, Presence)]
    assert [type(r) for r in told] == [Contacts, Counts, Counts]
    assert told[0].fact_s == pytest.approx(turned_s, abs=0.001)
    assert told[0].at_s - told[0].fact_s > 2.9
    assert line.frames() == [1.0, 2.0]
    assert line.presences()[-1].state == "up"


async def test_after_a_long_cut_the_present_comes_first_and_the_rest_as_late_facts(line: Line) -> None:
    await line.run(1.0)
    line.count(0.0)
    line.passes = lambda kind: False
    for n in range(1, 5001):
        line.count(float(n))
    await line.run(600.0, 1.0)
    line.passes = lambda kind: True
    said = len(line.said)
    line.count(5001.0)
    await line.run(10.0)
    frames = [v[1] for r in line.said[said:] if isinstance(r, Counts) for v in r.values]
    assert frames[0] == 5001.0
    assert frames[1:] == [float(n) for n in range(1, 5001)]
    assert all(r.at_s - r.fact_s > 500.0 for r in line.said[said + 3 :] if isinstance(r, Counts))
    assert line.journal.first("north") == line.journal.last("north") + 1, "what has arrived is kept no longer"
    assert "restarted" not in [p.state for p in line.presences()]


async def test_facts_of_an_hour_alone_are_dated_although_the_clocks_ran_apart(tmp_path: Path) -> None:
    line = Line(tmp_path, ppm=100.0)
    await line.run(60.0)
    line.passes = lambda kind: False
    await line.run(1800.0, 1.0)
    turned_s = line.contact(True)
    await line.run(1800.0, 1.0)
    line.passes = lambda kind: True
    await line.run(3.0)  # it waits a while for something of now, to be told together with it
    (told,) = [r for r in line.said if isinstance(r, Contacts)]
    # 100 ppm over half an hour are 180 ms: 4.3 frames at 24 fps [D]
    assert told.fact_s == pytest.approx(turned_s, abs=0.005)
    line.close()


async def test_what_is_over_is_told_in_one_instant_with_what_is_now(tmp_path: Path) -> None:
    line = Line(tmp_path)
    await line.run(1.0)
    line.contact(True)
    line.passes = lambda kind: False
    await line.run(5.0)
    line.contact(False)  # it stood for five seconds, and turns again
    await line.run(5.0)
    line.contact(True)
    await line.run(5.0)
    before, line.passes = len(line.said), lambda kind: True
    seen: list[tuple[float, bool]] = []
    wire: deque[tuple[str, bytes]] = deque()
    straight = line.deliver
    line.deliver = wire.extend  # type: ignore[method-assign, assignment]
    for _ in range(80):  # the network lets them in one by one, in order
        await line.run(0.05)
        line.count(7.0)
        if wire:
            straight([wire.popleft()])
            straight([wire.popleft()] if wire else [])
        seen += [
            (line.clock.now_s(), v)
            for r in line.said[before:]
            if isinstance(r, Contacts)
            for _, v in r.values
        ]
        before = len(line.said)
    assert [v for _, v in seen] == [False, True]
    assert seen[0][0] == seen[1][0], "nobody sees it stand who looks now"
    line.close()


@settings(max_examples=40, deadline=None)
@given(st.data())
async def test_whatever_the_network_loses_every_reading_arrives_once(data: Any) -> None:
    with tempfile.TemporaryDirectory() as folder:
        line = Line(Path(folder))
        await line.run(0.5)
        lost = data.draw(st.lists(st.booleans(), min_size=60, max_size=60))
        where = iter(lost * 100)
        line.passes = lambda kind: not next(where)
        for n in range(1, 61):
            line.count(float(n))
            await line.run(0.1)
        line.passes = lambda kind: True
        await line.run(4.0)
        assert sorted(line.frames()) == [float(n) for n in range(1, 61)]
        assert line.talk.telling.lost == 0
        at = [r.at_s for r in line.said]
        assert at == sorted(at)
        assert all(r.fact_s <= r.at_s for r in line.said)
        line.close()


def _hostile(line: Line) -> dict[str, tuple[Any, Any]]:
    at_s, name = line.far.now_s(), line.journal.name
    n = line.journal.last("north") + 1

    def said(reading: Any, of: str = OF, journal: str = name, number: int = n) -> tuple[Any, bytes]:
        return "reading", encode(Said(of, journal, number, reading))

    run = Contacts(at_s, at_s, "north", (("4.run", True),))
    nan = encode(Said(OF, name, n, Counts(at_s, at_s, "north", (("4.frames", 1.0, at_s),))))
    return {
        "nothing": ("reading", b""),
        "None": ("reading", None),
        "no JSON": ("reading", b"\xff\x00{"),
        "an object": ("reading", b'{"4.run": true}'),
        "a wrong type": ("reading", nan.replace(b"1.0", b'"1.0"')),
        "a number too large to be one": ("reading", nan.replace(b"1.0", b"1e999")),
        "nested": ("reading", b"[" * 16_000),
        "huge": said(Contacts(at_s, at_s, "north", (("4.run", True),) * 2000)),
        "another site's": said(run, of="elsewhere/far/north"),
        "another station's": said(run, of="booth/near/north"),
        "another adapter's reading": said(Contacts(at_s, at_s, "south", (("4.run", True),))),
        "another journal's": said(run, journal="0" * 16),
        "a signal that is not wired here": said(Contacts(at_s, at_s, "north", (("5.run", True),))),
        "a counter as a contact": said(Contacts(at_s, at_s, "north", (("4.frames", True),))),
        "an arm as a counter": said(Positions(at_s, at_s, "north", (("4.frames", 0.5),))),
        "of the future": said(Contacts(at_s + 60, at_s + 60, "north", (("4.run", True),))),
        "true after it was received": said(Contacts(at_s, at_s + 0.4, "north", (("4.run", True),))),
        "a number far ahead": said(run, number=n + 1_000_000),
        "number nought": said(run, number=0),
        "replayed": next(p for p in line.seen if p[0] == "reading"),
        "an answer replayed": next(p for p in line.seen if p[0] == "answer"),
        "an answer nobody asked for": ("answer", encode(Answer(OF, "desk1", 9999, "x", at_s, at_s, 1, 0))),
        "a will of an old life": ("status", encode(Status("booth/far", 2, "gone"))),
        "a status of another station": ("status", encode(Status("booth/near", 9, "gone"))),
    }


async def test_hostile_payloads_change_nothing_and_are_counted(line: Line) -> None:
    line.talk.take("status", encode(Status("booth/far", 3, "up")))
    await line.run(1.0)
    line.contact(False)
    await line.run(0.5)
    for what, (kind, payload) in _hostile(line).items():
        said, bad, ahead_s = len(line.said), line.talk.telling.bad, line.talk.relation.ahead_s
        line.talk.take(kind, payload)
        assert line.said[said:] == [], what
        assert line.talk.telling.bad == bad + 1, what
        assert line.talk.relation.ahead_s == ahead_s, what
    await line.run(1.2)
    turned_s = line.contact(True)
    told = [r for r in line.said if isinstance(r, Contacts)]
    assert told[-1].values == (("4.run", True),)
    assert told[-1].fact_s == pytest.approx(turned_s, abs=0.001)
    assert line.presences()[-1].bad_lines == len(_hostile(line)), "and the desk is told how many"


async def test_a_hostile_question_is_not_answered_and_drops_nothing(line: Line) -> None:
    line.count(1.0)
    for payload in (b"", b"[]", None, b'["ask","booth/near/north","d",1,"",0,null]', b"[" * 99_999):
        assert line.stream.answer(payload) == []
    beyond = f'["ask","{OF}","d",1,"{line.journal.name}",999999,null]'.encode()
    assert line.stream.answer(beyond) == []
    assert line.stream.bad == 6
    assert line.journal.first("north") == 1


async def test_a_station_that_hangs_is_said_to_after_a_second(line: Line) -> None:
    await line.run(1.0)
    line.contact(True)
    line.passes = lambda kind: False
    hung_s = line.clock.now_s()
    await line.run(1.5)
    assert line.presences()[-1].state == "gone"
    assert "hangs" in line.presences()[-1].text
    assert line.presences()[-1].at_s - hung_s <= 1.3


async def test_a_will_is_said_at_once(line: Line) -> None:
    await line.run(1.0)
    line.contact(True)
    line.talk.take("status", encode(Status("booth/far", 1, "gone")))
    assert line.presences()[-1].state == "gone"
    assert "far is gone" in line.presences()[-1].text


async def test_a_desk_that_comes_late_takes_up_the_present_and_not_the_past(line: Line) -> None:
    line.passes = lambda kind: False
    for n in range(500):
        line.count(float(n))
    line.contact(True)
    line.passes = lambda kind: True
    await line.run(0.2)
    assert line.frames() == [499.0]
    assert [r.values for r in line.said if isinstance(r, Contacts)] == [(("4.run", True),)]
    await line.run(2.0)
    assert line.frames() == [499.0]
