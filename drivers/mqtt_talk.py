"""The desk's half of the talk with a station, without a network: payloads in, questions and readings out."""

from __future__ import annotations

from collections import deque
from typing import Literal

from drivers.driver import Emit
from drivers.mqtt_clock import Relation
from drivers.mqtt_numbers import Numbers
from drivers.mqtt_options import MqttOptions
from drivers.mqtt_order import Backlog, Order
from drivers.mqtt_telling import Telling
from drivers.mqtt_words import MOST_WANTED, Answer, Ask, Said, Status, decode, encode, in_order
from interlock.clock import Clock
from interlock.signals import AdapterSpec, Contacts, Counts, Positions, Presence, Reading

SILENT_S = 1.0
"""A station answers four times a second; one that has not for so long hangs, or is cut off."""
AGAIN_S = 1.0
MOST_OUTSTANDING = 64
TRIPS = 8
"""The last two seconds' questions: how long an answer takes now."""
MOST_AHEAD = 100_000
"""No reading's number may be further ahead of what the station itself says is its newest."""
AHEAD_S = 0.5
"""A fact further in the future than this is none."""


class Talk:
    """Lives as long as the driver: what is known of the station outlasts a connection."""

    def __init__(self, spec: AdapterSpec, options: MqttOptions, desk: str, clock: Clock, emit: Emit) -> None:
        self.adapter = options.adapter or spec.name
        self._station = options.station
        self._of_station = f"{options.site}/{options.station}"
        self._of = f"{self._of_station}/{self.adapter}"
        self._desk, self._clock = desk, clock
        self._signals = {
            Contacts: frozenset(s.removeprefix("!") for s in spec.wiring.levels.values()),
            Counts: frozenset(c.signal for c in spec.wiring.counters.values()),
            Positions: frozenset(a.signal for a in spec.wiring.analogs.values()),
        }
        self.relation = Relation()
        self.telling = Telling(spec, clock, emit, self.relation.ours_s)
        self._journal = ""
        self._numbers, self._order, self._last = Numbers(0), Order(1), 0
        self._backlog = Backlog()
        self._trips_s: deque[float] = deque(maxlen=TRIPS)
        self._life = 0
        self._asked: dict[int, float] = {}
        self._k = 0
        self._wanted = (0, 0)
        self._wanted_s = self._heard_s = float("-inf")

    def connected(self) -> None:
        """To the broker; whether the station is there is another matter."""
        self._heard_s = self._clock.now_s()
        self._wanted_s = float("-inf")
        self._asked.clear()

    def lost(self, text: str) -> None:
        """The broker is away."""
        self.relation.lost()
        self.telling.gone(text)

    def ask(self) -> bytes:
        """The next question."""
        now_s = self._clock.now_s()
        self._k += 1
        self._asked[self._k] = now_s
        while len(self._asked) > MOST_OUTSTANDING:
            del self._asked[next(iter(self._asked))]
        want = None
        if self.wants() and (gap := self._numbers.gap(self._last)) is not None:
            want = (gap[0], min(gap[1], gap[0] + MOST_WANTED - 1))
            self._wanted, self._wanted_s = want, now_s
        return encode(Ask(self._of, self._desk, self._k, self._journal, self._numbers.floor, want))

    def wants(self) -> bool:
        """Whether something is missing that was not asked for just now."""
        gap = self._numbers.gap(self._last)
        if not self._journal or gap is None:
            return False
        return gap[0] > self._wanted[1] or self._clock.now_s() - self._wanted_s >= AGAIN_S

    def tick(self) -> None:
        """Now and then: what was held for long enough is told, a silent station is said to be silent."""
        now_s = self._clock.now_s()
        self._tell(self._order.due(now_s, max(self._trips_s, default=0.0)))
        for reading in self._backlog.due(now_s):
            self.telling.tell(reading)
        if now_s - self._heard_s >= SILENT_S:
            self.relation.lost()
            self.telling.gone(f"station {self._station} does not answer: it hangs, or is cut off")

    def take(self, what: Literal["status", "reading", "answer"], payload: object) -> None:
        """A payload from the broker. What is wrong with it is counted, and changes nothing."""
        self.telling.lines += 1
        if what == "status":
            good = self._status(decode(Status, payload, self._of_station))
        elif what == "answer":
            good = self._answer(decode(Answer, payload, self._of))
        else:
            good = self._said(decode(Said, payload, self._of))
        self.telling.bad += not good

    def _status(self, status: Status | None) -> bool:
        if status is None or status.life < self._life:
            return False
        self._life = status.life
        if status.state == "gone":
            self.relation.lost()
            self.telling.gone(f"station {self._station} is gone: its connection to the broker has ended")
        return True

    def _answer(self, a: Answer | None) -> bool:
        if a is None:
            return False
        if a.desk != self._desk:
            return True  # another desk's; no harm in it
        t1_s = self._asked.pop(a.k, None)
        if t1_s is None or not a.journal or not a.got_s <= a.sent_s or a.first > a.last + 1:
            return False  # asked by nobody, or answered already
        now_s = self._clock.now_s()
        if a.journal != self._journal:
            self.relation.forget()
            self._journal = a.journal
            # What is kept from before our time is not for us: the present state is said to whoever comes new.
            self._numbers, self._order = Numbers(a.last), Order(a.last + 1)
            self._last, self._wanted = a.last, (0, 0)
        self.relation.exchange(t1_s, a.got_s, a.sent_s, now_s)
        self._trips_s.append(now_s - t1_s)
        self._heard_s = now_s
        self._last = max(self._last, a.last)
        self.telling.lost += self._numbers.gone_below(a.first)
        return True

    def _said(self, said: Said | None) -> bool:
        if said is None:
            return False
        if not self._journal:
            return True  # not asked yet whose these are; the question is on its way
        r, now_s = said.reading, self._clock.now_s()
        if said.journal != self._journal or not 0 < said.n <= self._last + MOST_AHEAD:
            return False
        if r.adapter != self.adapter or not in_order(r) or self.relation.ours_s(r.at_s) > now_s + AHEAD_S:
            return False
        if not isinstance(r, Presence) and not {v[0] for v in r.values} <= self._signals[type(r)]:
            return False
        if not self._numbers.add(said.n):
            return False  # a replay, or one that came twice
        self._last = max(self._last, said.n)
        late, told = self._order.put(said.n, r, now_s)
        if late:
            for reading in told:
                self.telling.late(reading)
        else:
            self._tell(told)
        return True

    def _tell(self, readings: list[Reading]) -> None:
        if readings:
            now_s = self._clock.now_s()
            age_s = now_s - self.relation.ours_s(readings[-1].fact_s)
            for reading in self._backlog.add(readings, age_s, now_s):
                self.telling.tell(reading)
