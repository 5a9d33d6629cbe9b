"""What is said on an adapter's line, made into readings. Pure: bytes and their times in, readings out.

After every opening of the port, and after a silence of 750 ms, the adapter is asked who it is, and its
lines wait for the answer (0.6 s at most): only then is it certain whether they belong to the life that
was known, and no edge and no count is invented in between. Then they go out in order, none lost.

A restart is certain by any of: a ``HI`` that nobody asked for; an answering ``HI`` whose tick is more
than 2 s off the map; a tick more than 2 s back, or more than 2 s into the future; a count that went
back. It is told before the counts of the new life, and ticks and counts are taken anew.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from drivers.serial_asking import Asking
from drivers.serial_counts import CounterBook
from drivers.serial_greeting import complaint, narrowed
from drivers.ticks import TickClock
from drivers.wire import Ask, Hello, Levels, Line, Pulses, Raws
from drivers.wire_parser import Parser
from interlock.signals import AdapterSpec, Contacts, Counts, Positions, Presence, Reading

SILENCE_S = 0.75
RESTART_S = 2.0
HOLD_S = 0.6
HELD_LINES = 1000
REASK_S = 1.0
ALIVE_S = 0.15  # the next line may be 100 ms away, and 250 are allowed
PRESENCE_S = 1.0
MUTE_S = 3.0


class Session:
    """One adapter from its driver's start on, over all lives and openings.

    ``emit`` gets readings, their ``at_s`` never decreasing; ``send`` gets the bytes of an ``ID``.
    ``place`` is the port in a person's words.
    """

    def __init__(
        self, spec: AdapterSpec, place: str, emit: Callable[[Reading], None], send: Callable[[bytes], None]
    ) -> None:
        self._spec = spec
        self._place = place
        self._emit = emit
        self._asking = Asking(send)
        self._parser = Parser()
        self._ticks = TickClock()
        self._counters = CounterBook()
        self._lost = 0
        self._missing = False
        """Lines are, since the contacts told last."""
        self._hello: Hello | None = None
        self._wiring = spec.wiring
        self._complaint = ""
        self._gone = ""
        self._noise = 0
        self._held: list[tuple[Line, float]] | None = []
        # times
        self._opened_s: float | None = None
        self._returned_s = 0.0
        self._heard_s: float | None = None
        self._at_s = float("-inf")
        self._spoke_s = float("-inf")
        self._presence_s = float("-inf")

    # What the port does. ─────────────────────────────────────────────────

    def opened(self, at_s: float) -> None:
        """The port is open."""
        self._parser.reopened()
        self._opened_s, self._heard_s, self._gone, self._noise = at_s, None, "", 0
        self._asking.ask(at_s)

    def gone(self, at_s: float, text: str) -> None:
        """The port is not there; said once for each reason."""
        self._release(at_s)
        self._opened_s = self._heard_s = None
        self._say_gone(at_s, f"{self._place}: {text}; trying again")

    def data(self, at_s: float, data: bytes) -> None:
        """Bytes came in, none of them for a while of silence."""
        self._noise += len(data)
        for line in self._parser.feed(data):
            if not isinstance(line, Ask):
                self._line(line, at_s)
        if self._held and at_s - self._returned_s >= HOLD_S:
            self._release(at_s)
        if self._opened_s is not None and self._heard_s is None and at_s - self._opened_s >= MUTE_S:
            what = (
                "what comes in is no adapter line: is the baud rate right?"
                if self._noise
                else "not a word comes in"
            )
            self._say_gone(at_s, f"{self._place} is open, but {what}")

    # What the adapter says. ──────────────────────────────────────────────

    def _line(self, line: Line, at_s: float) -> None:
        if self._heard_s is None or at_s - self._heard_s >= SILENCE_S:
            self._returned(at_s)
        self._heard_s = at_s
        if isinstance(line, Hello):
            self._greeted(line, at_s)
            return
        if self._held is None:
            self._apply(line, at_s)
        else:
            self._held.append((line, at_s))
            if at_s - self._returned_s >= HOLD_S or len(self._held) >= HELD_LINES:
                self._release(at_s)
        if not self._asking.answered and at_s - self._asking.asked_s >= (
            REASK_S if self._held is None else HOLD_S / 2
        ):
            self._asking.ask(at_s)
        if at_s - self._presence_s >= PRESENCE_S or at_s - self._spoke_s >= ALIVE_S:
            self._presence(at_s, "up")

    def _returned(self, at_s: float) -> None:
        """The first word after an opening or a silence: nothing is certain until it has said who it is."""
        self._release(at_s)
        self._held, self._returned_s = [], at_s
        just_opened = self._heard_s is None and at_s - self._asking.asked_s < HOLD_S / 2
        if not just_opened:
            self._asking.ask(at_s)
        self._gone = ""
        self._presence(at_s, "up")

    def _greeted(self, hello: Hello, at_s: float) -> None:
        if hello.re is None:
            self._release(at_s)  # what waited was said before the restart
            restarted = self._ticks.known
        else:
            asked_s = self._asking.when(hello.re, at_s)
            off = self._ticks.known and not (
                asked_s - RESTART_S <= self._ticks.raw_s(hello.tick) <= at_s + RESTART_S
            )
            restarted = off or self._is_back(hello, at_s)
        self._hello, self._asking.answered = hello, True
        self._complaint = complaint(self._spec, self._place, hello)
        self._wiring = narrowed(self._spec.wiring, hello.levels, hello.counters, hello.analogs)
        if restarted:
            self._restart(at_s)
        else:
            self._lose(hello)
        if hello.version == 1:
            self._ticks.feed(hello.tick, at_s)
        self._release(at_s)
        self._presence_s = float("-inf")  # due with the next line, when its present state has been taken up

    def _release(self, at_s: float) -> None:
        """What waited goes out, in order; nothing waits any more."""
        held, self._held = self._held, None
        for line, then_s in held or ():
            self._apply(line, then_s)

    def _apply(self, line: Line, at_s: float) -> None:
        if self._hello is not None and self._hello.version != 1:
            self._lose(line)
            return  # what its lines mean is not known
        if self._is_back(line, at_s):
            self._restart(at_s)
            # It is asked again; not at once, lest two adapters on one line make a storm.
            self._asking.answered = False
        else:
            self._lose(line)
        self._ticks.feed(line.tick, at_s)
        fact_s = min(at_s, self._ticks.to_s(line.tick))
        if isinstance(line, Pulses):
            taken, wires = self._counters.take(line, self._ticks, at_s), self._wiring.counters
            counts = tuple(
                (wires[k].signal, pulses * wires[k].frames_per_pulse, pulse_s)
                for k, (pulses, pulse_s) in enumerate(taken)
                if k in wires
            )
            if counts:
                self._emit(Counts(*self._stamp(at_s, fact_s), self._spec.name, counts))
        elif isinstance(line, Levels):
            # However many inputs it promised: it tells of no more than these.
            wiring = narrowed(self._wiring, line.width, 0, 0)
            if contacts := wiring.contacts(line.mask):
                missing, self._missing = self._missing, False
                self._emit(Contacts(*self._stamp(at_s, fact_s), self._spec.name, contacts, missing))
        elif isinstance(line, Raws):
            raws = line.raws
            positions = tuple(
                (a.signal, a.position(raws[k]))
                for k, a in sorted(self._wiring.analogs.items())
                if k < len(raws)
            )
            if positions:
                self._emit(Positions(*self._stamp(at_s, fact_s), self._spec.name, positions))

    def _lose(self, line: Line) -> None:
        if line.lost:
            self._lost += line.lost
            self._missing = True

    def _is_back(self, line: Line, at_s: float) -> bool:
        """Whether this line can only be of a new life."""
        if not self._ticks.known:
            return False
        if (
            self._ticks.step_ms(line.tick) < -1000 * RESTART_S
            or self._ticks.raw_s(line.tick) > at_s + RESTART_S
        ):
            return True
        return isinstance(line, Pulses) and self._counters.is_back(line)

    def _restart(self, at_s: float) -> None:
        self._ticks.reset()
        self._counters.clear()
        self._missing = True  # whatever it would have said while it began anew
        self._presence(at_s, "restarted")

    # What is said of it. ─────────────────────────────────────────────────

    def _presence(self, at_s: float, state: Literal["up", "gone", "restarted"], text: str = "") -> None:
        self._at_s = self._spoke_s = self._presence_s = at_s = max(at_s, self._at_s)
        tally = self._parser.tally
        text = text or self._complaint
        self._emit(Presence(at_s, at_s, self._spec.name, state, tally.lines, tally.bad, self._lost, text))

    def _stamp(self, at_s: float, fact_s: float) -> tuple[float, float]:
        """When it was received (what waited for the ``HI``: when that came) and when it was true."""
        fact_s = min(fact_s, at_s)
        self._at_s = self._spoke_s = at_s = max(at_s, self._at_s)
        return at_s, fact_s

    def _say_gone(self, at_s: float, text: str) -> None:
        if text != self._gone:
            self._gone = text
            self._presence(at_s, "gone", text)
