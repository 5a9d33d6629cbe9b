"""What a mailbox promises: lossless keeps all in order, newest keeps one a key; a publisher never hears of either."""

from __future__ import annotations

import asyncio

import pytest

from interlock.bus import Bus, Channel, Lossless
from interlock.bus.mailbox import FAIR
from interlock.clock import VirtualClock


@pytest.fixture
def clock() -> VirtualClock:
    return VirtualClock(100.0)


@pytest.fixture
def channel(clock: VirtualClock) -> Channel[str]:
    return Channel("test", clock)


async def turns(n: int = 5) -> None:
    """Let everything that can run do so."""
    for _ in range(n):
        await asyncio.sleep(0)


def test_a_lossless_box_gives_everything_in_the_order_of_publishing(channel: Channel[str]) -> None:
    box = channel.lossless("desk")
    for item in "abcab":
        channel.publish(item)
    assert box.drain() == ["a", "b", "c", "a", "b"]
    assert box.drain() == []


def test_a_box_gets_what_is_published_after_it_was_made_and_nothing_before(channel: Channel[str]) -> None:
    channel.publish("early")
    box = channel.lossless("late comer")
    channel.publish("now")
    assert box.drain() == ["now"]


def test_a_newest_box_keeps_the_newest_of_each_key_in_the_order_of_their_first_arrival(
    channel: Channel[str],
) -> None:
    box = channel.newest("screen", key=lambda item: item[0])
    for item in ("b1", "a1", "b2", "c1", "b3", "a2"):
        channel.publish(item)
    stats = box.stats()
    assert (stats.passed, stats.overtaken, stats.waiting) == (6, 3, 3)
    assert box.drain() == ["b3", "a2", "c1"]
    channel.publish("b4")
    assert box.drain() == ["b4"]
    assert box.stats().overtaken == 3  # b3 had been taken: b4 overtook nothing


def test_both_kinds_say_how_many_wait_how_many_ever_did_and_how_far_behind_they_are(
    channel: Channel[str], clock: VirtualClock
) -> None:
    everything = channel.lossless("journal")
    newest = channel.newest("screen", key=lambda item: item)
    asyncio.run(clock.advance_to(101.0))
    channel.publish("x")
    asyncio.run(clock.advance_to(103.0))
    channel.publish("x")
    channel.publish("y")
    asyncio.run(clock.advance_to(104.5))
    lossless, keyed = everything.stats(), newest.stats()
    assert (lossless.passed, lossless.overtaken, lossless.waiting, lossless.most_waiting) == (3, 0, 3, 3)
    assert (keyed.passed, keyed.overtaken, keyed.waiting, keyed.most_waiting) == (3, 1, 2, 2)
    assert lossless.behind_s == 3.5
    assert keyed.behind_s == 3.5  # since the key came in: the newer value did not put the reader ahead
    everything.drain()
    newest.drain()
    lossless, keyed = everything.stats(), newest.stats()
    assert (lossless.waiting, lossless.most_waiting, lossless.behind_s) == (0, 3, 0.0)
    assert (keyed.waiting, keyed.most_waiting, keyed.behind_s) == (0, 2, 0.0)


async def test_taken_one_by_one_the_age_is_that_of_the_one_which_waits_longest(
    channel: Channel[str], clock: VirtualClock
) -> None:
    box = channel.lossless("desk")
    channel.publish("old")
    await clock.advance_to(102.0)
    channel.publish("young")
    await clock.advance_to(103.0)
    assert box.stats().behind_s == 3.0
    assert await anext(box) == "old"
    assert box.stats().behind_s == 1.0


async def test_a_closed_box_delivers_what_waits_and_then_ends(channel: Channel[str]) -> None:
    box = channel.lossless("journal")
    keyed = channel.newest("screen", key=lambda item: item)
    channel.publish("a")
    channel.publish("b")
    channel.close()
    assert [item async for item in box] == ["a", "b"]
    assert [item async for item in keyed] == ["a", "b"]
    assert not await box.ready()
    channel.publish("c")
    assert channel.late == 1
    assert box.drain() == []


async def test_closing_wakes_a_reader_who_waits_for_nothing(channel: Channel[str]) -> None:
    box = channel.lossless("desk")
    reader = asyncio.create_task(box.ready())
    await turns()
    channel.close()
    assert await reader is False


async def test_a_box_made_on_a_closed_channel_ends_at_once(channel: Channel[str]) -> None:
    channel.close()
    assert [item async for item in channel.lossless("too late")] == []


async def test_cancelling_a_reader_who_waits_loses_nothing(channel: Channel[str]) -> None:
    box = channel.lossless("desk")
    reader = asyncio.create_task(anext(box))
    await turns()
    reader.cancel()
    channel.publish("a")  # between the cancelling and its taking effect
    with pytest.raises(asyncio.CancelledError):
        await reader
    channel.publish("b")
    assert await anext(box) == "a"
    assert await anext(box) == "b"


async def test_cancelling_a_reader_whom_a_publish_has_just_woken_loses_nothing(channel: Channel[str]) -> None:
    box = channel.lossless("desk")
    reader = asyncio.create_task(anext(box))
    await turns()
    channel.publish("a")
    reader.cancel()
    with pytest.raises(asyncio.CancelledError):
        await reader
    assert box.drain() == ["a"]


async def test_a_reader_who_catches_up_lets_others_run(channel: Channel[str]) -> None:
    box = channel.lossless("slow")
    for _ in range(3 * FAIR):
        channel.publish("x")
    channel.close()
    ran = 0

    async def other() -> None:
        nonlocal ran
        while True:
            await asyncio.sleep(0)
            ran += 1

    task = asyncio.create_task(other())
    assert len([item async for item in box]) == 3 * FAIR
    assert ran >= 2
    task.cancel()


async def test_a_second_reader_of_one_box_is_refused_with_its_name(channel: Channel[str]) -> None:
    box = channel.lossless("desk")
    first = asyncio.create_task(box.ready())
    await turns()
    with pytest.raises(RuntimeError, match="desk is already being read"):
        await box.ready()
    channel.close()
    await first


async def test_a_subscriber_that_dies_is_gone_and_the_others_go_on(channel: Channel[str]) -> None:
    async def dies() -> None:
        with channel.lossless("screen") as box:
            async for _ in box:
                raise ValueError("a screen's own matter")

    other = channel.lossless("journal")
    task = asyncio.create_task(dies())
    await turns()
    for item in "abc":
        channel.publish(item)
    with pytest.raises(ValueError, match="own matter"):
        await task
    channel.publish("d")
    assert other.drain() == ["a", "b", "c", "d"]
    assert [s.name for s in channel.stats()] == ["journal"]


def test_a_reader_whose_loop_is_closed_does_not_hurt_the_publisher(channel: Channel[str]) -> None:
    """A loop that died with its reader asleep: the wake-up has nowhere to go."""
    box = channel.lossless("orphan")
    loop = asyncio.new_event_loop()
    waiting = box.ready()
    task = loop.create_task(waiting)
    loop.run_until_complete(asyncio.sleep(0, None))
    loop.close()
    channel.publish("a")
    assert box.drain() == ["a"]
    waiting.close()
    task._log_destroy_pending = False  # type: ignore[attr-defined]  # it is meant to be left


def test_a_key_function_that_fails_is_counted_and_loses_nothing(channel: Channel[str]) -> None:
    def key(item: str) -> str:
        if item == "bad":
            raise KeyError(item)
        return item

    box = channel.newest("screen", key=key)
    unhashable: Channel[list[int]] = Channel("lists", VirtualClock())
    lists = unhashable.newest("screen", key=lambda item: item)  # type: ignore[arg-type, return-value]
    for item in ("a", "bad", "bad", "a"):
        channel.publish(item)
    unhashable.publish([1])
    assert box.drain() == ["a", "bad", "bad"]
    assert box.stats().faults == 2
    assert lists.drain() == [[1]]
    assert lists.stats().faults == 1


def test_somebody_may_unsubscribe_while_something_is_being_published(channel: Channel[str]) -> None:
    boxes: list[Lossless[str]] = []

    def key(item: str) -> str:
        boxes[0].leave()
        return item

    channel.newest("meddler", key=key)
    boxes.append(channel.lossless("leaves"))
    last = channel.lossless("stays")
    channel.publish("a")
    assert last.drain() == ["a"]
    assert [s.name for s in channel.stats()] == ["meddler", "stays"]


def test_the_bus_says_of_every_channel_how_its_subscribers_keep_up(clock: VirtualClock) -> None:
    bus = Bus(clock)
    bus.inputs.lossless("desk")
    bus.lines.lossless("journal")
    bus.state.newest("screen", key=lambda _: None)
    assert {name: [(s.name, s.kind) for s in stats] for name, stats in bus.stats().items()} == {
        "inputs": [("desk", "lossless")],
        "lines": [("journal", "lossless")],
        "state": [("screen", "newest")],
    }
