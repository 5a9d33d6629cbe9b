"""The station at work: its adapters' drivers, its journal, and the connection to the broker.

Whatever the network does, the drivers go on and the journal takes what they say.
"""

from __future__ import annotations

import asyncio
import sqlite3
from collections import deque
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from drivers.driver import Driver, find
from drivers.mqtt_link import (
    FIRST_PAUSE_S,
    LONGEST_PAUSE_S,
    PART_S,
    SEND_S,
    Unusable,
    client,
    end,
    go_on,
    together,
    why_not,
)
from drivers.mqtt_sheet import sheet_topic
from drivers.mqtt_words import Status, encode, status_topic
from interlock.clock import SystemClock
from interlock.errors import RecordError
from interlock.service.drivers_run import run_drivers
from interlock.signals import AdapterSpec, Reading
from interlock.station.alone import Alone
from interlock.station.board import Line, board
from interlock.station.file import StationFile
from interlock.station.journal import Journal
from interlock.station.lone import Lone
from interlock.station.stream import Stream
from interlock.text import clean

if TYPE_CHECKING:
    import aiomqtt

COMMIT_S = 0.25
MOST_WAITING = 20_000
"""Words on their way to the broker; what does not fit is in the journal, and the desk asks for it."""


class Station:
    """``say`` gets lines for a person. ``drivers``: others than those that the file names (tests)."""

    def __init__(
        self,
        file: StationFile,
        clock: SystemClock,
        say: Callable[[str], None],
        drivers: Iterable[tuple[AdapterSpec, Driver]] | None = None,
    ) -> None:
        """Raises ``OptionError`` for an adapter that cannot be served, ``RecordError`` for a journal that cannot be had."""
        self.options = o = file.options
        self._clock, self._say = clock, say
        self._drivers = (
            [(a, find(a.driver)(a, clock)) for a in file.adapters] if drivers is None else list(drivers)
        )
        self.journal = Journal(file.journal, clock)
        self.streams = {a.name: Stream(o.site, o.name, a.name, self.journal, clock) for a, _ in self._drivers}
        self._out: deque[tuple[str, bytes]] = deque(maxlen=MOST_WAITING)
        self._wake = asyncio.Event()
        self._connected = False
        self._told = ""
        self.lone = Lone(f"{o.site}/{o.name}", self.journal, clock)
        self.alone = Alone(self.streams, self.lone, self.journal, clock, say)

    async def run(self) -> None:
        """Until cancelled."""
        tasks = run_drivers(self._drivers, self._clock, self._take)
        tasks.append(asyncio.create_task(self._keep(), name="journal"))
        tasks.append(asyncio.create_task(self._connect(), name="broker"))
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            for task in tasks:
                await end(task)
            self.journal.close()

    def _take(self, reading: Reading) -> None:
        word = self.streams[reading.adapter].add(reading)
        if self._connected:
            self._out.append(word)
            self._wake.set()

    async def _keep(self) -> None:
        """Commit, and say whether anybody listens."""
        while True:
            await self._clock.sleep_until(self._clock.now_s() + COMMIT_S)
            try:
                self.journal.commit()
            except sqlite3.Error as error:
                raise RecordError(
                    clean(f"{self.journal.path}: the station's journal cannot be written: {error}", 500)
                ) from error
            self.alone.look()

    def board(self, height: int) -> list[Line]:
        """What its screen shows now."""
        o, since_s = self.options, self.alone.since_s
        return board(
            f"Station {o.name} of {o.site}",
            self.lone,
            alone_s=None if since_s is None else self._clock.now_s() - since_s,
            rows=self.alone.rows(),
            contacts=self.alone.contacts(),
            frames=self.alone.frames(),
            adapters=[f"{kept} kept of {words}" for words, kept in self.alone.adapters()],
            said=[self._told, *self._counted()] if self._told else self._counted(),
            height=height,
        )

    def _counted(self) -> list[str]:
        """What came over the broker and was none of ours, if anything did."""
        bad = self.lone.bad + sum(s.bad for s in self.streams.values())
        return [f"{bad} words came over the broker that were none of ours: ignored"] if bad else []

    async def _connect(self) -> None:
        import aiomqtt  # noqa: PLC0415 - an extra, and slow to import

        o, pause_s = self.options, FIRST_PAUSE_S
        topic, of = status_topic(o.site, o.name), f"{o.site}/{o.name}"
        while True:
            life = self.journal.begin_life()
            will = aiomqtt.Will(topic, encode(Status(of, life, "gone")), qos=1, retain=True)
            try:
                async with client(o, f"longlace-station-{o.site}-{o.name}", will) as broker:
                    broker.timeout = PART_S
                    pause_s = FIRST_PAUSE_S
                    sheet = (sheet_topic(o.site, o.name), 0)
                    await broker.subscribe(
                        [sheet, *((s.topic, 0) for s in self.streams.values())], timeout=4.0
                    )
                    await broker.publish(
                        topic, encode(Status(of, life, "up")), qos=1, retain=True, timeout=4.0
                    )
                    self._tell(f"connected to broker {o.broker}:{o.tcp_port}")
                    go_on()
                    try:
                        await self._serve(broker)
                    except asyncio.CancelledError:
                        # A goodbye on purpose sends no will.
                        await broker.publish(topic, encode(Status(of, life, "gone")), qos=1, retain=True)
                        raise
            except (aiomqtt.MqttError, OSError) as error:
                self._tell(why_not(o, error))
            except Unusable as error:
                self._tell(str(error))
            go_on()
            await self._clock.sleep_until(self._clock.now_s() + pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)

    async def _serve(self, broker: aiomqtt.Client) -> None:
        self._out.clear()
        self._connected = True
        try:
            await together(self._hear(broker), self._send(broker))
        finally:
            self._connected = False

    async def _hear(self, broker: aiomqtt.Client) -> None:
        streams = {s.topic: s for s in self.streams.values()}
        sheet = sheet_topic(self.options.site, self.options.name)
        async for message in broker.messages:
            topic = str(message.topic)
            if topic == sheet:
                self.lone.take(message.payload, retained=bool(message.retain))
            elif (stream := streams.get(topic)) is not None:
                self._out.extend(stream.answer(message.payload))
                self._wake.set()

    async def _send(self, broker: aiomqtt.Client) -> None:
        while True:
            self._wake.clear()
            while self._out:
                topic, payload = self._out.popleft()
                await broker.publish(topic, payload, qos=0, timeout=SEND_S)
            await self._wake.wait()

    def _tell(self, text: str) -> None:
        if text != self._told:
            self._told = text
            self._say(text)


__all__ = ["Station"]
