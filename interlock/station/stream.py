"""One adapter at the station: what it says goes into the journal, and what is asked of it is answered."""

from __future__ import annotations

import msgspec

from drivers.mqtt_words import MOST_WANTED, Answer, Ask, Said, adapter_topic, decode, desk_topic, encode
from interlock.clock import Clock
from interlock.signals import Contacts, Counts, Positions, Presence, Reading
from interlock.station.journal import Journal

FRESH_S = 0.5
"""What an adapter said last is its present state for so long."""

KNOWN_S = 2.0
"""The same for people, who are better told an old state than none over every hiccup."""


class Stream:
    """``asked``: ``(topic, payload)`` pairs to publish go out of :meth:`add` and :meth:`answer`."""

    def __init__(self, site: str, station: str, adapter: str, journal: Journal, clock: Clock) -> None:
        self.adapter = adapter
        self.of = f"{site}/{station}/{adapter}"
        self.topic = desk_topic(site, station, adapter)
        self._reading_topic = adapter_topic(site, station, adapter, "reading")
        self._answer_topic = adapter_topic(site, station, adapter, "answer")
        self._journal, self._clock = journal, clock
        self.asked_s = float("-inf")
        self.bad = 0
        self._contacts: dict[str, bool] = {}
        self._counts: dict[str, tuple[float, float | None]] = {}
        self._positions: dict[str, float] = {}
        self._said_s = float("-inf")
        self.here = False
        self.turned_s: dict[str, float] = _numbers(journal.noted(f"turned {adapter}"))
        """When each motor that turns was seen to start, in the station's seconds; kept over a restart of the station."""

    def add(self, reading: Reading) -> tuple[str, bytes]:
        """What the adapter says: on its way, and kept until the desk has it."""
        if isinstance(reading, Presence):
            self.here = reading.state != "gone"
        else:
            self.here, self._said_s = True, reading.fact_s
        if isinstance(reading, Contacts):
            self._starts(reading)
            self._contacts.update(reading.values)
        elif isinstance(reading, Counts):
            self._counts.update({s: (n, p) for s, n, p in reading.values})
        elif isinstance(reading, Positions):
            self._positions.update(reading.values)
        return self._say(self._journal.add(reading), reading)

    def answer(self, payload: object) -> list[tuple[str, bytes]]:
        """To the desk's question: stamps, what it wants again, and to whoever is new the present state."""
        got_s = self._clock.now_s()
        ask = decode(Ask, payload, self.of)
        if ask is None or (ask.journal == self._journal.name and ask.have > self._journal.last(self.adapter)):
            self.bad += 1
            return []
        self.asked_s = got_s
        known = ask.journal == self._journal.name
        if known:
            self._journal.drop(self.adapter, ask.have)
        first, last = self._journal.first(self.adapter), self._journal.last(self.adapter)
        words: list[tuple[str, bytes]] = []
        if known and ask.want is not None:
            a, b = ask.want
            words += [
                self._say(n, r) for n, r in self._journal.kept(self.adapter, a, min(b, a + MOST_WANTED - 1))
            ]
        if not known:
            words += [self.add(r) for r in self.present(got_s)]
        answer = Answer(self.of, ask.desk, ask.k, self._journal.name, got_s, self._clock.now_s(), first, last)
        return [(self._answer_topic, encode(answer)), *words]

    def present(self, now_s: float) -> list[Reading]:
        """What is known of every input now, if the adapter speaks."""
        if not self.here or now_s - self._said_s > FRESH_S:
            return []
        at_s, fact_s, name = now_s, self._said_s, self.adapter
        found: list[Reading] = []
        if self._contacts:
            found.append(Contacts(at_s, fact_s, name, tuple(self._contacts.items())))
        if self._counts:
            found.append(Counts(at_s, fact_s, name, tuple((s, *v) for s, v in self._counts.items())))
        if self._positions:
            found.append(Positions(at_s, fact_s, name, tuple(self._positions.items())))
        return found

    @property
    def known(self) -> bool:
        """Whether what it said last may be taken for what is now, by whoever stands at the station."""
        return self.here and self._clock.now_s() - self._said_s <= KNOWN_S

    def contacts(self) -> dict[str, bool]:
        """What its contacts are now; nothing if that is not known."""
        return dict(self._contacts) if self.known else {}

    def frames(self) -> dict[str, float]:
        """What its counters are now; nothing if that is not known."""
        return {s: n for s, (n, _) in self._counts.items()} if self.known else {}

    def words(self) -> str:
        """Its contacts and counts in words, for whoever stands at the station."""
        if not self.known:
            return f"{self.adapter}: not known"
        said = [f"{s} {'yes' if v else 'no'}" for s, v in self._contacts.items()]
        said += [f"{s} {n:.0f}" for s, (n, _) in self._counts.items()]
        said += [f"{s} {p:+.2f}" for s, p in self._positions.items()]
        return f"{self.adapter}: {', '.join(said)}"

    def _starts(self, reading: Contacts) -> None:
        before = dict(self.turned_s)
        for signal, turns in reading.values:
            if not signal.endswith(".run"):
                continue
            if not turns:
                self.turned_s.pop(signal, None)
            elif (
                self._contacts.get(signal) is False
            ):  # one that turned when it was first heard of may have for long
                self.turned_s[signal] = reading.fact_s
        if self.turned_s != before:
            self._journal.note(f"turned {self.adapter}", msgspec.json.encode(self.turned_s).decode())

    def _say(self, n: int, reading: Reading) -> tuple[str, bytes]:
        return self._reading_topic, encode(Said(self.of, self._journal.name, n, reading))


def _numbers(text: str | None) -> dict[str, float]:
    return {} if text is None else msgspec.json.decode(text, type=dict[str, float])
