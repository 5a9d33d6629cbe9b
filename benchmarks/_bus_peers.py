"""The bus and its peers, each as one function: four subscribers, every event to every one, in order.

``fan_out(takes, drive)``: subscriber k calls ``takes[k](event)`` for each event; ``drive(publish)`` publishes; it
returns when every subscriber has had everything. Peers that call back in the publisher's own call are marked
*calls back*: there a slow subscriber stops the publisher, which is what the bus is there to prevent.
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import Awaitable, Callable, Sequence
from typing import Any, TypeAlias

import aiopubsub
import anyio
import blinker
import bubus
import pyee.asyncio
import pyee.base

from interlock.bus import Channel
from interlock.clock import SystemClock

Take: TypeAlias = Callable[[Any], object]
Drive: TypeAlias = Callable[[Callable[[Any], object]], Awaitable[None]]
FanOut: TypeAlias = Callable[[Sequence[Take], Drive], Awaitable[None]]

_END = object()


async def longlace(takes: Sequence[Take], drive: Drive) -> None:
    """Lossless mailboxes, drained: how the desk reads them."""
    channel: Channel[Any] = Channel("bench", SystemClock())

    async def read(take: Take) -> None:
        with channel.lossless("bench") as box:
            while await box.ready():
                for event in box.drain():
                    take(event)

    tasks = [asyncio.create_task(read(take)) for take in takes]
    await asyncio.sleep(0)
    await drive(channel.publish)
    channel.close()
    await asyncio.gather(*tasks)


async def asyncio_queue(takes: Sequence[Take], drive: Drive) -> None:
    """A queue a subscriber."""
    queues: list[asyncio.Queue[Any]] = [asyncio.Queue() for _ in takes]

    async def read(queue: asyncio.Queue[Any], take: Take) -> None:
        while (event := await queue.get()) is not _END:
            take(event)

    def publish(event: object) -> None:
        for queue in queues:
            queue.put_nowait(event)

    tasks = [asyncio.create_task(read(q, take)) for q, take in zip(queues, takes, strict=True)]
    await asyncio.sleep(0)
    await drive(publish)
    publish(_END)
    await asyncio.gather(*tasks)


async def anyio_streams(takes: Sequence[Take], drive: Drive) -> None:
    """An unbounded memory object stream a subscriber."""
    streams: list[Any] = [anyio.create_memory_object_stream[Any](math.inf) for _ in takes]

    async def read(receive: Any, take: Take) -> None:
        async with receive:
            async for event in receive:
                take(event)

    def publish(event: object) -> None:
        for send, _ in streams:
            send.send_nowait(event)

    tasks = [asyncio.create_task(read(r, take)) for (_, r), take in zip(streams, takes, strict=True)]
    await asyncio.sleep(0)
    await drive(publish)
    for send, _ in streams:
        await send.aclose()
    await asyncio.gather(*tasks)


async def pyee_calls_back(takes: Sequence[Take], drive: Drive) -> None:
    """Handlers are called in the publisher's own call."""
    emitter = pyee.base.EventEmitter()
    for take in takes:
        emitter.add_listener("event", take)
    await drive(lambda event: emitter.emit("event", event))


async def pyee_async(takes: Sequence[Take], drive: Drive) -> None:
    """A task for every event and handler."""
    emitter = pyee.asyncio.AsyncIOEventEmitter()

    def listen(take: Take) -> None:
        async def handler(event: object) -> None:
            take(event)

        emitter.add_listener("event", handler)

    for take in takes:
        listen(take)
    await drive(lambda event: emitter.emit("event", event))
    await emitter.wait_for_complete()


async def blinker_calls_back(takes: Sequence[Take], drive: Drive) -> None:
    """Receivers are called in the publisher's own call."""
    signal = blinker.Signal()
    receivers = [lambda sender, event, take=take: take(event) for take in takes]
    for receiver in receivers:
        signal.connect(receiver)
    await drive(lambda event: signal.send(None, event=event))


async def aiopubsub_hub(takes: Sequence[Take], drive: Drive) -> None:
    """A listener a subscriber, asynchronous."""
    hub = aiopubsub.Hub()
    publisher = aiopubsub.Publisher(hub, prefix=aiopubsub.Key("bench"))
    subscribers = []
    left = 0
    all_taken = asyncio.Event()

    def listen(n: int, take: Take) -> None:
        async def handler(key: object, event: object) -> None:
            nonlocal left
            take(event)
            left -= 1
            if left == 0:
                all_taken.set()

        subscriber = aiopubsub.Subscriber(hub, f"s{n}")
        subscriber.add_async_listener(aiopubsub.Key("bench", "event"), handler)
        subscribers.append(subscriber)

    for n, take in enumerate(takes):
        listen(n, take)
    key = aiopubsub.Key("event")

    def publish(event: object) -> None:
        nonlocal left
        left += len(takes)
        all_taken.clear()
        publisher.publish(key, event)

    await drive(publish)
    await all_taken.wait()
    for subscriber in subscribers:
        await subscriber.remove_all_listeners()


class BenchEvent(bubus.BaseEvent[None]):  # type: ignore[misc] # mypy does not see the peers
    payload: Any = None


async def bubus_bus(takes: Sequence[Take], drive: Drive) -> None:
    """Pydantic events over one queue."""
    bus = bubus.EventBus(name="bench", max_history_size=None)

    def listen(n: int, take: Take) -> None:
        async def handler(event: BenchEvent) -> None:
            take(event.payload)

        handler.__name__ = f"handler_{n}"
        bus.on(BenchEvent, handler)

    for n, take in enumerate(takes):
        listen(n, take)
    await drive(lambda event: bus.dispatch(BenchEvent(payload=event)))
    await bus.wait_until_idle()
    await bus.stop(clear=True)


OURS = "longlace"
PEERS: dict[str, tuple[FanOut, float]] = {
    OURS: (longlace, 1.0),
    "asyncio.Queue": (asyncio_queue, 1.0),
    "anyio streams": (anyio_streams, 1.0),
    "pyee (calls back)": (pyee_calls_back, 1.0),
    "pyee, asyncio": (pyee_async, 0.05),
    "blinker (calls back)": (blinker_calls_back, 1.0),
    "aiopubsub": (aiopubsub_hub, 0.05),
    "bubus": (bubus_bus, 0.0005),
}
"""Name, and the share of the events that it gets: the slow ones would take minutes, their time is stated per event."""
CALLS_BACK = (
    "it calls the subscriber within the publisher's own call and keeps nothing: there a slow subscriber stops the port that is "
    "read. An event that waits for its reader has to be put down and taken up."
)
"""Why a peer of that sort is no target that a lossless mailbox could be held to at any cost."""
