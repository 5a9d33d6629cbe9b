"""An adapter made from the page on the adapter line alone: it shares no code with the program that reads it.

It is a microcontroller in small: contacts and pulse counters read from a :class:`room.House`, a clock
with its own crystal and its own zero, a sequence number, a line on a pty. Around it there is what
happens to lines in a booth: late by some milliseconds, damaged, silent; and a restart.
"""

from __future__ import annotations

import heapq
import itertools
import math
import os
import random
import select
import threading
import time
import tty
from dataclasses import dataclass, field

from habits import Habits
from page_line import SEQS, TICKS, crc_ibm_3740, make_line
from room import House

LEVELS_EVERY_S = 0.25
COUNTS_EVERY_S = 0.1
SIGNALS = ("run", "lamp", "dowser", "film")


@dataclass(repr=False)
class Adapter:
    """One adapter with its pty: ``port`` is what the show file names. Levels 0–3 of the first house, 4–7 of the second …"""

    name: str
    houses: list[House]
    habits: Habits
    inverted: frozenset[str] = frozenset()
    """Signals (``2.dowser``) whose contact is closed when they are false."""
    seed: int = 0
    sent: int = 0
    spoiled: int = 0
    """Lines that arrived damaged."""
    dropped: int = 0
    """Lines that never arrived."""
    asked: int = 0
    """Greetings that the computer asked for."""
    gaps: list[tuple[float, float]] = field(default_factory=list)
    """(from, to): between the last whole line before a contact's change and the first that told it, a line was damaged:
    nobody who listens can know when in that time it changed."""
    _seq: int = 65_500
    _stop: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        self._random = random.Random(self.seed)
        self._master, slave = os.openpty()
        tty.setraw(slave)
        self.port = os.ttyname(slave)
        # With nobody on the other side poll() now says so, and nothing is sent that would be read much later.
        os.close(slave)
        os.set_blocking(self._master, False)
        self._heard = b""
        self._up_since_s = self.habits.up_since_s
        self._threaded_s = max(self._up_since_s + 1.0, time.monotonic() - 120.0)
        self._counted_from = {h.id: -self.habits.pulses_before for h in self.houses}
        self._outbox: list[tuple[float, int, bytes]] = []
        self._order = itertools.count()
        self._last_leave_s = 0.0
        self._untold = self._missing = False
        self._whole_s = 0.0
        self._thread = threading.Thread(target=self._live, name=f"adapter {self.name}")

    def start(self) -> None:
        """Begin to live."""
        self._thread.start()

    def close(self) -> None:
        """End, and take the pty away."""
        self._stop.set()
        self._thread.join()
        os.close(self._master)

    def listened_to(self) -> bool:
        """True while somebody has the port open."""
        poll = select.poll()
        poll.register(self._master, select.POLLIN)
        return not any(event & select.POLLHUP for _, event in poll.poll(0))

    # What it says

    def tick(self, at_s: float) -> int:
        """Its own milliseconds at that moment."""
        return math.floor((at_s - self._up_since_s) * 1000 * (1 + self.habits.ppm * 1e-6)) % TICKS

    def _say(self, now_s: float, kind: str, tick: int, *fields: str) -> bool:
        """False: it will not arrive as it was said."""
        line = make_line(kind, self._seq, tick, *fields)
        self._seq = (self._seq + 1) % SEQS
        if self._cut_off(now_s):
            self.dropped += 1
            return False
        self.sent += 1
        whole = self._random.random() >= self.habits.damaged
        if not whole:
            self._missing = True
            line = self._spoil(line)
        elif not self._untold:
            self._missing, self._whole_s = False, now_s
        # Later ones do not overtake earlier ones.
        leave_s = max(self._last_leave_s, now_s + self._random.uniform(0, self.habits.jitter_s))
        self._last_leave_s = leave_s
        heapq.heappush(self._outbox, (leave_s, next(self._order), line))
        return whole

    def _cut_off(self, now_s: float) -> bool:
        return any(from_s <= now_s < to_s for from_s, to_s in self.habits.silent)

    def _spoil(self, line: bytes) -> bytes:
        how = self._random.choice(("lost", "byte", "cut", "noise"))
        if how == "lost":
            self.dropped += 1
            return b""
        self.spoiled += 1
        place = self._random.randrange(1, len(line) - 2)
        if how == "byte":
            return line[:place] + bytes([line[place] ^ 1 << self._random.randrange(3)]) + line[place + 1 :]
        if how == "cut":
            return line[:place] + b"\n"
        return line[:place] + bytes(self._random.randrange(128, 256) for _ in range(3)) + line[place:]

    def _greet(self, now_s: float, *more: str) -> None:
        levels, counters = 4 * len(self.houses), len(self.houses)
        shape = (f"levels={levels}", f"counters={counters}", "analogs=0")
        self._say(now_s, "HI", self.tick(now_s), "v1", self.name, *shape, *more)

    def _levels(self, now_s: float, fact_s: float) -> None:
        mask = 0
        for place, (house, kind) in enumerate(itertools.product(self.houses, SIGNALS)):
            closed = house.signal(kind).state(fact_s) ^ (f"{house.id}.{kind}" in self.inverted)
            mask |= closed << place
        digits = len(self.houses)  # four levels a house, and a digit for four
        self._untold = self._untold or fact_s < now_s
        if self._say(now_s, "LV", self.tick(fact_s), f"{mask:0{digits}X}"):
            if self._untold and self._missing:
                self.gaps.append((self._whole_s, now_s))
            self._untold, self._missing, self._whole_s = False, False, now_s

    def _counts(self, now_s: float) -> None:
        fields = []
        for house in self.houses:
            passed = math.floor(house.motion.frames(now_s) + 1e-9)
            count = passed - self._counted_from[house.id]
            if count == 0:
                fields.append("0@0")
                continue
            # The pulses of when the film was threaded have a tick too.
            pulse_s = house.motion.when(passed) if passed else self._threaded_s
            fields.append(f"{count % TICKS}@{self.tick(pulse_s)}")
        self._say(now_s, "CT", self.tick(now_s), *fields)

    # What it does

    def _live(self) -> None:
        now_s = time.monotonic()
        levels_s = counts_s = now_s
        switches = [house.signal(kind) for house in self.houses for kind in SIGNALS]
        seen_s = now_s
        restarts = list(self.habits.restarts)
        while not self._stop.is_set():
            now_s = time.monotonic()
            if restarts and now_s >= restarts[0][0]:
                self._restart(*restarts.pop(0))
                levels_s = counts_s = seen_s = time.monotonic()
                continue
            change_s = min(s.next_change_s(seen_s) for s in switches)
            if change_s <= now_s:
                seen_s = change_s
                self._levels(now_s, change_s)
                levels_s = now_s + LEVELS_EVERY_S
            elif levels_s <= now_s:
                self._levels(now_s, now_s)
                levels_s = now_s + LEVELS_EVERY_S
            if counts_s <= now_s:
                self._counts(now_s)
                counts_s += COUNTS_EVERY_S
            self._send(now_s)
            due_s = min(levels_s, counts_s, change_s, self._outbox[0][0] if self._outbox else math.inf)
            self._listen(max(0.0, due_s - time.monotonic()))

    def _restart(self, dead_s: float, up_s: float) -> None:
        self._outbox.clear()
        self._stop.wait(max(0.0, up_s - time.monotonic()))
        now_s = time.monotonic()
        self._discard_input()
        self._up_since_s, self._seq = now_s, 0
        for house in self.houses:
            self._counted_from[house.id] = math.floor(house.motion.frames(now_s) + 1e-9)
        self._greet(now_s)
        self._levels(now_s, now_s)
        self._counts(now_s)

    def _send(self, now_s: float) -> None:
        while self._outbox and self._outbox[0][0] <= now_s:
            _, _, line = heapq.heappop(self._outbox)
            if line and self.listened_to():
                os.write(self._master, line)

    def _listen(self, for_s: float) -> None:
        if not self.listened_to():
            self._stop.wait(min(for_s, 0.02))
            return
        readable, _, _ = select.select([self._master], [], [], for_s)
        if not readable:
            return
        try:
            self._heard += os.read(self._master, 4096)
        except OSError:  # closed on the other side at this moment
            return
        *lines, self._heard = self._heard.split(b"\n")
        now_s = time.monotonic()
        for line in lines:
            body, _, crc = line.partition(b"*")
            if crc == b"%04X" % crc_ibm_3740(body) and body.startswith(b"ID ") and not self._cut_off(now_s):
                self.asked += 1
                self._greet(now_s, f"re={body.split()[1].decode('ascii')}")
                self._levels(now_s, now_s)
                self._counts(now_s)

    def _discard_input(self) -> None:
        self._heard = b""
        try:
            os.read(self._master, 65536)
        except OSError:  # nothing there, or nobody
            return
