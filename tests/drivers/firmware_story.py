"""A board of simulated pins, and a story told on it. Runs under CPython and under MicroPython, word for word the same."""

# mypy: ignore-errors


class Board:
    """Pins and a millisecond clock around ``line.Adapter``; ``said`` is (ms, bytes)."""

    def __init__(self, line, levels=5, counters=2, analogs=1, period=1 << 30, start=0, name="north"):
        self.period = period
        self.start = start
        self.ms = 0
        self.said = []
        self.closed = [False] * levels
        self.raw = [2055] * analogs
        self.adapter = line.Adapter(
            name,
            [self._pin(k) for k in range(levels)],
            counters,
            [self._arm(k) for k in range(analogs)],
            lambda data: self.said.append((self.ms, data)),
            self.ticks(),
            period,
        )

    def _pin(self, k):
        return lambda: self.closed[k]

    def _arm(self, k):
        return lambda: self.raw[k]

    def ticks(self):
        return (self.start + self.ms) % self.period

    def contact(self, k, closed):
        """An edge: the interrupt is called, as on the board."""
        if self.closed[k] != closed:
            self.closed[k] = closed
            self.adapter.levels[k].moved(self.ticks())

    def pulse(self, k):
        self.adapter.counters[k].pulse(self.ticks())

    def run(self, ms, each=None):
        """Time passes, a step each millisecond; ``each(ms)`` moves the pins before it."""
        for _ in range(ms):
            self.ms += 1
            if each is not None:
                each(self.ms)
            self.adapter.step(self.ticks())

    def hear(self, data):
        self.adapter.hear(data)


def story(line):
    """Three seconds: a bouncing contact, film that runs, an arm that moves, an ID, raw ticks that wrap."""
    board = Board(line, start=(1 << 30) - 1500)
    bounces = (700, 701, 703, 704, 706)

    def each(ms):
        if ms in bounces:
            board.contact(0, bounces.index(ms) % 2 == 0)
        if ms > 800 and ms % 42 == 0:
            board.pulse(0)
        if ms == 1200:
            board.raw[0] = 3800
        if ms == 2000:
            board.contact(1, True)
            board.contact(4, True)

    board.run(1000, each)
    board.hear(b"ID 7 91733*" + line.whole("ID", 7, 91733, [])[-5:-1] + b"\n")
    board.run(2000, each)
    return board.said
