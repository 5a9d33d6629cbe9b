"""What the desk says on a broker, retained: its state and its alarms for other programs, its cue sheet for far booths.

::

    longlace/SITE/desk/status                  {"status": "up" | "gone", …}    once a second, and the last will
    longlace/SITE/desk/state                   State, as on the screens         once a second, at once with an alarm
    longlace/SITE/desk/alarm/CODE/SUBJECT      the ``alarm`` line               while it is not normal; then cleared
    longlace/SITE/desk/STATION/booth/sheet     :class:`drivers.mqtt_sheet.Sheet`

One connection for each broker and site that the show file names. It takes nothing from the broker but what is to be
cleared away; a broker that is away, or hangs, costs the desk nothing: nothing here is waited for by anything else,
and what is said is made only where somebody can hear it.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Mapping
from typing import TYPE_CHECKING
from urllib.parse import quote

import msgspec

from interlock.clock import Clock
from interlock.service.folding import Folding
from interlock.service.sheet import houses_of, make_sheet
from interlock.showfile.show import Show
from interlock.watch.state import AlarmLine, encode

if TYPE_CHECKING:
    import aiomqtt

    from drivers.mqtt_options import BrokerOptions
    from drivers.mqtt_sheet import Sheet

log = logging.getLogger("longlace.publish")

LOOK_S = 0.25
STATE_S = 1.0
GOODBYE_S = 1.5
_ENCODER = msgspec.json.Encoder()


def publishers(show: Show, folding: Folding, clock: Clock) -> list[asyncio.Task[None]]:
    """A task for each broker and site of the show, until cancelled."""
    if not any(a.driver == "mqtt" for a in show.adapters):
        return []
    from drivers.driver import read_options  # noqa: PLC0415 - only where there is a broker
    from drivers.mqtt_options import MqttOptions  # noqa: PLC0415

    every = [(a, read_options(MqttOptions, a)) for a in show.adapters if a.driver == "mqtt"]
    places: dict[tuple[str, int, str], list[MqttOptions]] = {}
    for _, o in every:
        places.setdefault((o.broker, o.tcp_port, o.site), []).append(o)
    tasks = []
    for found in places.values():
        stations = {
            o.station: houses_of(show, {a.name for a, other in every if other.station == o.station})
            for o in found
        }
        public = all(o.publish for o in found)
        publisher = Publisher(found[0], stations, folding, clock, public=public)
        tasks.append(asyncio.create_task(publisher.run(), name=f"publisher at {found[0].broker}"))
    return tasks


def alarm_topic(site: str, alarm: AlarmLine) -> str:
    """Where an alarm is; what a topic's level cannot hold of its subject is percent-encoded."""
    return f"longlace/{site}/desk/alarm/{alarm.code}/{quote(alarm.subject, safe='>')}"


class Publisher:
    """One broker and site. ``stations``: the houses of each; ``public``: state and alarms are said as well."""

    def __init__(
        self,
        options: BrokerOptions,
        stations: Mapping[str, frozenset[str]],
        folding: Folding,
        clock: Clock,
        *,
        public: bool = True,
    ) -> None:
        self._options, self._stations, self._folding, self._clock = options, stations, folding, clock
        self._public = public
        self._desk = secrets.token_hex(8)
        self._alarms: dict[str, tuple[object, ...]] = {}  # topic: as it was said
        self._strange: set[str] = set()  # retained by somebody, and no alarm of ours
        self._why = ""

    async def run(self) -> None:
        """Until cancelled; then the alarms are cleared and the desk says that it is gone."""
        import aiomqtt  # noqa: PLC0415 - an extra, and slow to import

        from drivers.mqtt_link import FIRST_PAUSE_S, LONGEST_PAUSE_S, Unusable, client, go_on, why_not  # noqa: PLC0415

        o, pause_s = self._options, FIRST_PAUSE_S
        will = aiomqtt.Will(self._topic("status"), self._status("gone"), qos=1, retain=True)
        while True:
            try:
                async with client(
                    o, f"longlace-publisher-{self._desk}", will if self._public else None
                ) as broker:
                    self._why, pause_s = "", FIRST_PAUSE_S
                    await self._serve(broker)
            except (aiomqtt.MqttError, OSError) as error:
                self._log(why_not(o, error))
            except Unusable as error:
                self._log(str(error))
            go_on()
            await self._clock.sleep_until(self._clock.now_s() + pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)

    async def _serve(self, broker: aiomqtt.Client) -> None:
        from drivers.mqtt_link import end, go_on  # noqa: PLC0415 - as above

        self._alarms.clear()
        self._strange.clear()
        hearing = asyncio.create_task(self._hear(broker), name="what is retained")
        try:
            state_s = float("-inf")
            while not hearing.done():
                go_on()
                now_s = self._clock.now_s()
                changed = self._public and await self._say_alarms(broker)
                if changed or now_s - state_s >= STATE_S:
                    state_s = now_s
                    await self._say_state(broker, watching=True)
                pause = asyncio.ensure_future(self._clock.sleep_until(now_s + LOOK_S))
                try:
                    await asyncio.wait({pause, hearing}, return_when=asyncio.FIRST_COMPLETED)
                finally:
                    pause.cancel()
        except asyncio.CancelledError:
            await self._goodbye(broker)
            raise
        finally:
            await end(hearing)
        if not hearing.cancelled() and (fault := hearing.exception()) is not None:
            raise fault

    async def _hear(self, broker: aiomqtt.Client) -> None:
        """What the broker has of alarms: those of a desk that was killed are cleared away, ours are not to be changed."""
        if self._public:
            await broker.subscribe(self._topic("alarm/+/+"), 1)
        async for message in broker.messages:
            topic = str(message.topic)
            if message.retain and message.payload and topic not in self._alarms:
                self._strange.add(topic)

    async def _say_alarms(self, broker: aiomqtt.Client) -> bool:
        """Whether anything had to be said."""
        now = {alarm_topic(self._options.site, a): a for a in self._folding.state().alarms}
        gone = (set(self._alarms) | self._strange) - set(now)
        self._strange.clear()
        for topic in sorted(gone):
            await broker.publish(topic, b"", qos=1, retain=True)
            self._alarms.pop(topic, None)
        said = bool(gone)
        for topic, a in now.items():
            as_is = (a.state, a.priority, a.first_out, a.group, a.since_at, a.until_at, a.text)
            if self._alarms.get(topic) != as_is:
                await broker.publish(topic, encode(a), qos=1, retain=True)
                self._alarms[topic] = as_is
                said = True
        return said

    async def _say_state(self, broker: aiomqtt.Client, *, watching: bool) -> None:
        if self._public:
            status = self._status("up" if watching else "gone")
            await broker.publish(self._topic("status"), status, qos=1, retain=True)
            await broker.publish(self._topic("state"), _ENCODER.encode(self._folding.state()), retain=True)
        from drivers.mqtt_sheet import encode_sheet, sheet_topic  # noqa: PLC0415 - as above

        for station, houses in self._stations.items():
            sheet = self._sheet(station, houses, watching=watching)
            await broker.publish(
                sheet_topic(self._options.site, station), encode_sheet(sheet), qos=0, retain=True
            )

    async def _goodbye(self, broker: aiomqtt.Client) -> None:
        """An ended desk alarms nobody. What cannot be said in time is left to the last will."""
        import aiomqtt  # noqa: PLC0415 - as above

        try:
            async with asyncio.timeout(GOODBYE_S):
                for topic in self._alarms:
                    await broker.publish(topic, b"", qos=1, retain=True)
                await self._say_state(broker, watching=False)
        except (aiomqtt.MqttError, TimeoutError):
            log.info("the broker did not hear the end of the watch")

    def _sheet(self, station: str, houses: frozenset[str], *, watching: bool) -> Sheet:
        return make_sheet(
            self._folding,
            f"{self._options.site}/{station}",
            houses,
            desk=self._desk,
            wall_s=self._clock.wall_s(),
            watching=watching,
        )

    def _topic(self, rest: str) -> str:
        return f"longlace/{self._options.site}/desk/{rest}"

    def _status(self, status: str) -> bytes:
        show = self._folding.show
        return _ENCODER.encode(
            {"status": status, "desk": self._desk, "title": show.title, "wall_s": self._clock.wall_s()}
        )

    def _log(self, why: str) -> None:
        if why != self._why:
            self._why = why
            log.warning("%s", why)
