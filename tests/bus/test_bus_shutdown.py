"""The order in which a desk ends: readers → bus → journal → port."""

from __future__ import annotations

import asyncio

from interlock.bus import Channel, shut_down
from interlock.clock import VirtualClock


async def test_everything_that_was_read_reaches_the_record_before_it_is_closed() -> None:
    clock = VirtualClock()
    channel: Channel[int] = Channel("test", clock)
    told: list[str] = []
    recorded: list[int] = []

    async def reads() -> None:
        try:
            await asyncio.Event().wait()
        finally:
            channel.publish(3)  # its last word, while it closes its port
            told.append("reader")

    async def records() -> None:
        recorded.extend([item async for item in channel.lossless("journal")])
        told.append("bus")

    def close_journal() -> None:
        told.append("journal")

    async def close_port() -> None:
        told.append("port")

    reader, recorder = asyncio.create_task(reads()), asyncio.create_task(records())
    await asyncio.sleep(0)
    channel.publish(1)
    channel.publish(2)
    troubles = await shut_down(
        clock=clock,
        readers=[reader],
        bus=channel,
        subscribers=[recorder],
        journal=close_journal,
        port=close_port,
    )
    assert troubles == []
    assert told == ["reader", "bus", "journal", "port"]
    assert recorded == [1, 2, 3]


async def test_what_does_not_end_is_named_and_holds_nobody_up() -> None:
    clock = VirtualClock()
    channel: Channel[int] = Channel("test", clock)
    told: list[str] = []

    async def stubborn() -> None:
        while True:
            try:
                await asyncio.Event().wait()
            except asyncio.CancelledError:
                told.append("no")
                if len(told) > 2:
                    raise

    async def fails() -> None:
        raise OSError("the port is gone")

    def close_journal() -> None:
        raise ValueError("the disk is full")

    async def close_port() -> None:
        told.append("port")

    reader = asyncio.create_task(stubborn(), name="north")
    failing = asyncio.create_task(fails(), name="south")
    await asyncio.sleep(0)

    async def hands() -> None:
        for second in range(1, 8):
            await asyncio.sleep(0)
            await clock.advance_to(float(second))

    ending = asyncio.create_task(
        shut_down(clock=clock, readers=[reader, failing], bus=channel, journal=close_journal, port=close_port)
    )
    await hands()
    troubles = await ending
    assert troubles == [
        "reader north did not end within 5 s",
        "reader south ended with OSError: the port is gone",
        "record journal ended with ValueError: the disk is full",
    ]
    assert told[-1] == "port"
    reader.cancel()
    await asyncio.gather(reader, return_exceptions=True)
