"""``driver = "mqtt"``: an adapter in another booth, served there by ``longlace station``, over a broker.

The station wires inputs to signals; here the same wiring says which signals may come from there. A fact is
dated by the station's clock, related to the desk's by exchange of stamps (:mod:`drivers.mqtt_clock`). While the
network is away the station keeps what its adapters say; when it is back, what is missing is asked for and
told with the time at which it was true.
"""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING, ClassVar, Literal

from pydantic import BaseModel

from drivers.driver import Emit, read_options
from drivers.mqtt_link import (
    FIRST_PAUSE_S,
    LONGEST_PAUSE_S,
    PART_S,
    SEND_S,
    Unusable,
    client,
    go_on,
    together,
    why_not,
)
from drivers.mqtt_options import MqttOptions
from drivers.mqtt_talk import Talk
from drivers.mqtt_words import DESK, adapter_topic, desk_topic, status_topic
from interlock.clock import Clock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec
from interlock.text import clean

if TYPE_CHECKING:
    import aiomqtt

ASK_S = 0.25
TICK_S = 0.05


class MqttDriver:
    """Serves one adapter of one station; see :class:`drivers.driver.Driver`."""

    Options: ClassVar[type[BaseModel]] = MqttOptions

    def __init__(self, spec: AdapterSpec, clock: Clock) -> None:
        """Raises ``OptionError`` if the options make no sense; opens nothing yet."""
        self.spec = spec
        self.options = o = read_options(MqttOptions, spec)
        self._clock = clock
        try:
            import aiomqtt  # noqa: F401, PLC0415 - an extra, and slow to import
        except ImportError as error:
            raise _wrong(
                spec, 'aiomqtt is not installed: install the program with its extra "mqtt"'
            ) from error
        if o.station == DESK:
            raise _wrong(spec, f"station: none may be called {DESK}, the desk's own topics are")
        if not spec.wiring.signals():
            raise _wrong(spec, "no signal is wired: give levels, counters or analogs as the station has them")
        name = o.adapter or spec.name
        if not name.replace("-", "").replace("_", "").isalnum() or not name.isascii() or len(name) > 32:
            raise _wrong(spec, "its name is no topic: give adapter, of letters, digits, - and _")

    async def run(self, emit: Emit) -> None:
        """Serve until cancelled."""
        import aiomqtt  # noqa: PLC0415 - as above

        o, desk = self.options, secrets.token_hex(8)
        talk = Talk(self.spec, o, desk, self._clock, emit)
        pause_s = FIRST_PAUSE_S
        while True:
            try:
                async with client(o, f"longlace-desk-{desk}") as broker:
                    broker.timeout = PART_S
                    pause_s = FIRST_PAUSE_S
                    talk.connected()
                    await self._serve(talk, broker)
            except (aiomqtt.MqttError, OSError) as error:
                talk.lost(why_not(o, error))
            except Unusable as error:
                talk.lost(str(error))
            go_on()
            await self._clock.sleep_until(self._clock.now_s() + pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)

    async def _serve(self, talk: Talk, broker: aiomqtt.Client) -> None:
        o = self.options
        kinds: dict[str, Literal["status", "reading", "answer"]] = {
            adapter_topic(o.site, o.station, talk.adapter, "reading"): "reading",
            adapter_topic(o.site, o.station, talk.adapter, "answer"): "answer",
        }
        topics = [status_topic(o.site, o.station), *kinds]
        await broker.subscribe([(topic, 1) for topic in topics], timeout=4.0)
        go_on()
        await together(self._hear(talk, broker, kinds), self._ask(talk, broker), self._tick(talk))

    async def _hear(
        self, talk: Talk, broker: aiomqtt.Client, kinds: dict[str, Literal["status", "reading", "answer"]]
    ) -> None:
        async for message in broker.messages:
            talk.take(kinds.get(str(message.topic), "status"), message.payload)

    async def _tick(self, talk: Talk) -> None:
        while True:
            talk.tick()
            await self._clock.sleep_until(self._clock.now_s() + TICK_S)

    async def _ask(self, talk: Talk, broker: aiomqtt.Client) -> None:
        """Four times a second, and at once when something is missing."""
        o = self.options
        topic = desk_topic(o.site, o.station, talk.adapter)
        due_s = self._clock.now_s()
        while True:
            now_s = self._clock.now_s()
            if now_s >= due_s or talk.wants():
                due_s = now_s + ASK_S
                await broker.publish(topic, talk.ask(), qos=0, timeout=SEND_S)
            await self._clock.sleep_until(now_s + TICK_S)


def _wrong(spec: AdapterSpec, text: str) -> OptionError:
    return OptionError(clean(f"adapter {spec.name} (mqtt): {text}", 500))
