"""A board's ``machine`` module, of numbers: what main.py finds when it runs on MicroPython without a board.

``step`` is called whenever main.py looks at its USB line, and moves the pins.
"""

# mypy: ignore-errors


class Pin:
    IN, PULL_UP, IRQ_FALLING, IRQ_RISING = 0, 1, 4, 8
    made = {}  # noqa: RUF012 - MicroPython has no ClassVar

    def __init__(self, number, mode, pull):
        self.number, self.mode, self.pull = number, mode, pull
        self.high = True
        self.handler = None
        self.trigger = self.hard = None
        Pin.made[number] = self

    def value(self):
        return 1 if self.high else 0

    def irq(self, handler, trigger, hard):
        self.handler, self.trigger, self.hard = handler, trigger, hard

    def drive(self, high):
        """What is wired to it pulls it, and the interrupt comes."""
        if high == self.high:
            return
        self.high = high
        if self.handler and self.trigger & (self.IRQ_RISING if high else self.IRQ_FALLING):
            self.handler(self)


class ADC:
    def __init__(self, number):
        self.number = number

    def read_u16(self):
        return 0x8070


class Done(Exception):
    pass


class poll:  # noqa: N801
    """select.poll: nothing comes in, and time is what it is asked."""

    asked = 0

    def register(self, *_):
        pass

    def ipoll(self, _):
        poll.asked += 1
        n = poll.asked
        pins = Pin.made
        if n == 300:
            pins[2].drive(False)  # contact 0 closes
        if n > 300 and n % 40 == 0:
            pins[17].drive(False)  # counter 1
            pins[17].drive(True)
        if n > 1000:
            raise Done
        return ()


POLLIN = 1


def ticks_ms():
    """A millisecond a step of the board: it is asked once a step, and by each interrupt."""
    return poll.asked


def ticks_add(a, b):
    return (a + b) & 0x3FFFFFFF
