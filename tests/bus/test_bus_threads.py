"""Publishing from other threads: in each thread's order, none lost, one wake-up for a burst."""

from __future__ import annotations

import asyncio
import threading

import pytest

from interlock.bus import Channel
from interlock.clock import VirtualClock


async def test_what_four_threads_publish_arrives_whole_and_in_each_threads_order() -> None:
    channel: Channel[tuple[int, int]] = Channel("test", VirtualClock())
    channel.attach(asyncio.get_running_loop())
    box = channel.lossless("desk")

    def work(thread: int) -> None:
        for i in range(5_000):
            channel.publish_from_thread((thread, i))

    threads = [threading.Thread(target=work, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    got: list[tuple[int, int]] = []
    while len(got) < 20_000:  # a lost wake-up would hang here
        assert await box.ready()
        got += box.drain()
    for thread in threads:
        thread.join()
    for n in range(4):
        assert [i for thread, i in got if thread == n] == list(range(5_000))


async def test_a_burst_from_a_thread_wakes_the_loop_once() -> None:
    calls: list[object] = []

    class Counting:
        def call_soon_threadsafe(self, callback: object) -> None:
            calls.append(callback)

    channel: Channel[int] = Channel("test", VirtualClock())
    channel.attach(Counting())  # type: ignore[arg-type]
    box = channel.lossless("desk")
    for i in range(100):
        channel.publish_from_thread(i)
    assert len(calls) == 1
    calls[0]()  # type: ignore[operator]
    assert box.drain() == list(range(100))
    channel.publish_from_thread(100)
    assert len(calls) == 2


async def test_what_a_thread_handed_in_comes_before_what_the_loop_publishes_after_it() -> None:
    channel: Channel[str] = Channel("test", VirtualClock())
    channel.attach(asyncio.get_running_loop())
    box = channel.lossless("desk")
    await asyncio.to_thread(channel.publish_from_thread, "from the thread")
    channel.publish("from the loop")
    assert box.drain() == ["from the thread", "from the loop"]


async def test_closing_delivers_what_threads_have_handed_in_and_counts_what_comes_after() -> None:
    channel: Channel[str] = Channel("test", VirtualClock())
    channel.attach(asyncio.get_running_loop())
    box = channel.lossless("desk")
    channel.publish_from_thread("in time")
    channel.close()
    channel.publish_from_thread("too late")
    await asyncio.sleep(0)
    assert box.drain() == ["in time"]
    assert channel.late == 1


def test_a_thread_that_outlives_the_loop_hears_nothing_of_it_and_its_things_are_counted() -> None:
    channel: Channel[str] = Channel("test", VirtualClock())
    loop = asyncio.new_event_loop()
    channel.attach(loop)
    loop.close()
    channel.publish_from_thread("a")
    channel.publish_from_thread("b")
    assert channel.late == 2


def test_a_channel_without_a_loop_refuses_threads_and_says_what_to_do() -> None:
    channel: Channel[str] = Channel("test", VirtualClock())
    with pytest.raises(RuntimeError, match="attach"):
        channel.publish_from_thread("a")
