"""The adapter line, version 1, from the adapter's side. Pure: no pin, no port, no clock of its own.

Runs on the board under MicroPython and in the tests under CPython, so it keeps to what both know: no
f-strings, no dataclasses, no typing. Whatever an interrupt calls (``Level.moved``, ``Counter.pulse``)
allocates nothing: it stores small whole numbers into attributes that are there already.

*Raw* ticks are the board's ``ticks_ms()``, which wrap early (on most boards after 12.4 days); what goes
onto the line are 32 bits, made of them by :class:`Ticks`.
"""
# ruff: noqa: UP031 - no f-strings, and str.format costs the board more memory than %
# mypy: ignore-errors

DEBOUNCE_MS = 5
"""A contact has changed when it has kept still for so long."""
BURST_MS = 50
"""Bouncing for less than this is one change, dated by its first edge; for longer, by its last."""
LEVELS_MS = 200
LEVELS_LATEST_MS = 240  # 250 are allowed
COUNTS_MS = 100
MAX_LINE = 255
MAX_COUNTERS = 10
MASK32 = 0xFFFFFFFF


def _remainder(byte):
    crc = byte << 8
    for _ in range(8):
        crc = (crc << 1) ^ 0x1021 if crc & 0x8000 else crc << 1
    return crc & 0xFFFF


_CRC = tuple([_remainder(byte) for byte in range(256)])


def crc16(data):
    """CRC-16/IBM-3740 of bytes (MicroPython has none in its library)."""
    crc, table = 0xFFFF, _CRC
    for byte in data:
        crc = ((crc << 8) & 0xFFFF) ^ table[(crc >> 8) ^ byte]
    return crc


def whole(kind, seq, tick, fields):
    """The line as bytes, with its CRC and LF."""
    body = " ".join([kind, str(seq), str(tick)] + fields).encode()  # noqa: RUF005 - not every MicroPython has *
    return body + b"*%04X\n" % crc16(body)


class Ticks:
    """Raw ticks of ``period``, made 32 bits long. ``now`` must be told more often than half a period."""

    def __init__(self, raw, period):
        self._period = period
        self._raw = raw
        self._tick = 0

    def since(self, raw, earlier):
        """Milliseconds from ``earlier`` to ``raw``, the short way round."""
        half = self._period >> 1
        return (raw - earlier + half) % self._period - half

    def now(self, raw):
        """32 bits of it, 0 at power-up."""
        self._tick = (self._tick + self.since(raw, self._raw)) & MASK32
        self._raw = raw
        return self._tick

    def of(self, raw):
        """32 bits of a moment not long ago."""
        return (self._tick + self.since(raw, self._raw)) & MASK32


class Level:
    """One contact. ``closed`` is what it was when it last kept still."""

    def __init__(self, closed=False):
        self.closed = closed
        self.first = self.last = 0
        self.pending = False

    def moved(self, raw):
        """An edge, whichever. May be called by an interrupt."""
        if not self.pending:
            self.first = raw
        self.last = raw
        self.pending = True

    def settled(self, raw, closed, ticks):
        """Whether it has changed and kept still. ``closed``: what its pin says now."""
        if not self.pending:
            if closed != self.closed:
                self.moved(raw)  # the interrupt was not there yet, or was missed
            return False
        if ticks.since(raw, self.last) < DEBOUNCE_MS:
            return False
        self.pending = False
        changed = closed != self.closed
        self.closed = closed
        return changed

    def when(self, ticks):
        """Raw tick of the change that has settled."""
        return self.first if ticks.since(self.last, self.first) <= BURST_MS else self.last


class Counter:
    """One pulse counter. What the interrupt counts stays small: 32 bits are no small number on every board."""

    def __init__(self):
        self.small = 0
        self.raw = 0
        self._taken = 0
        self._total = 0
        self._tick = 0

    def pulse(self, raw):
        """A pulse. May be called by an interrupt."""
        self.small = (self.small + 1) & 0xFFFF
        self.raw = raw

    def field(self, ticks):
        """``COUNT@PULSETICK``. To be asked at least every 65,000 pulses."""
        small, raw = self.small, self.raw
        if small != self.small:  # a pulse between the two: once more, the next is a long way off
            small, raw = self.small, self.raw
        new = (small - self._taken) & 0xFFFF
        if new:
            self._taken = small
            self._total = (self._total + new) & MASK32
            self._tick = ticks.of(raw)
        return "%d@%d" % (self._total, self._tick)


class Adapter:
    """Says what its inputs do. ``write`` gets whole lines; ``pins``: one function a level, True for closed;
    ``arms``: one function an analog, 0…4095. :meth:`step` is to be called every millisecond or more often.
    """

    def __init__(self, name, pins, counters, arms, write, raw, period):
        if counters > MAX_COUNTERS:
            raise ValueError("a line has room for 10 counters")
        self.ticks = Ticks(raw, period)
        self.levels = [Level(bool(pin())) for pin in pins]
        self.counters = [Counter() for _ in range(counters)]
        self._name = name
        self._pins = pins
        self._arms = arms
        self._write = write
        self._seq = 0
        self._digits = max(1, (len(pins) + 3) // 4)
        self._heard = b""
        self._tick = self._levels_at = self._levels_tick = self._counts_at = 0
        self._hello(None)

    def step(self, raw):
        """Look at everything once and say what is due."""
        self._tick = self.ticks.now(raw)
        changes = []
        waiting = False
        for k in range(len(self.levels)):
            level = self.levels[k]
            if level.settled(raw, bool(self._pins[k]()), self.ticks):
                changes.append((self.ticks.since(raw, level.when(self.ticks)), k))
            waiting = waiting or level.pending
        if changes:
            self._changed(changes)
        late = (self._tick - self._levels_at) & MASK32
        # A contact that is just bouncing has perhaps changed before now: levels said of now would overtake it.
        if late >= LEVELS_LATEST_MS or (late >= LEVELS_MS and not waiting):
            self._say_levels(self._tick, self._mask())
        if ((self._tick - self._counts_at) & MASK32) >= COUNTS_MS:
            self._say_counts()

    def hear(self, data):
        """Bytes from the computer. Anything but a whole ``ID`` is ignored."""
        parts = (self._heard + data).split(b"\n")
        self._heard = parts.pop()
        if len(self._heard) > MAX_LINE:
            self._heard = b""
        for part in parts:
            seq = self._asked(part.rstrip(b"\r"))
            if seq is not None:
                self._hello(seq)

    def _asked(self, said):
        body, crc = said[:-5], said[-5:]
        words = body.split(b" ")
        if crc != b"*%04X" % crc16(body) or len(words) != 3 or words[0] != b"ID":
            return None
        if not (words[1].isdigit() and words[2].isdigit()) or int(words[1]) > 0xFFFF:
            return None
        return int(words[1])

    def _changed(self, changes):
        """One line a change, the earliest first, each with the levels as they were then."""
        changes.sort(reverse=True)  # by age: the oldest first
        mask = self._mask()
        for _, k in changes:
            mask ^= 1 << k
        for age, k in changes:
            mask ^= 1 << k
            # Never before what was said of the levels last: the computer would take it for old news.
            room = (self._tick - self._levels_tick) & MASK32
            self._say_levels((self._tick - min(age, room)) & MASK32, mask)

    def _mask(self):
        mask = 0
        for level in reversed(self.levels):
            mask = mask << 1 | level.closed
        return mask

    def _hello(self, asked):
        """Who it is, and at once how everything is."""
        sizes = (len(self.levels), len(self.counters), len(self._arms))
        fields = ["v1", self._name, "levels=%d" % sizes[0], "counters=%d" % sizes[1], "analogs=%d" % sizes[2]]
        if asked is not None:
            fields.append("re=%d" % asked)
        self._say("HI", self._tick, fields)
        self._say_levels(self._tick, self._mask())
        self._say_counts()

    def _say_levels(self, tick, mask):
        self._levels_at = self._tick
        self._levels_tick = tick
        self._say("LV", tick, ["%0*X" % (self._digits, mask)])

    def _say_counts(self):
        late = (self._tick - self._counts_at) & MASK32
        # On its grid where it can be, so that the rhythm does not slip by a step each time.
        self._counts_at = self._tick if late >= 2 * COUNTS_MS else (self._tick - late % COUNTS_MS) & MASK32
        if self.counters:
            self._say("CT", self._tick, [counter.field(self.ticks) for counter in self.counters])
        if self._arms:
            self._say("AN", self._tick, ["%d" % min(4095, max(0, arm())) for arm in self._arms])

    def _say(self, kind, tick, fields):
        self._write(whole(kind, self._seq, tick, fields))
        self._seq = (self._seq + 1) & 0xFFFF
