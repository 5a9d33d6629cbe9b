"""The board: pins and the USB line joined to line.py. Begins by itself when the board has power.

For boards with an RP2040 or RP2350 and MicroPython 1.22 or later. Copy line.py, board.py and main.py onto it.
Interrupts are hard ones: what they call allocates nothing, and a pulse is stamped even while a line is sent.
"""
# mypy: ignore-errors

import select
import sys
import time

import board
import line
import micropython
from machine import ADC, Pin

micropython.alloc_emergency_exception_buf(100)
ticks_ms = time.ticks_ms


class LevelPin:
    """A contact between the pin and ground: low is closed."""

    def __init__(self, number):
        self.pin = Pin(number, Pin.IN, Pin.PULL_UP)
        self.level = None

    def closed(self):
        return not self.pin.value()

    def edge(self, _):
        self.level.moved(ticks_ms())


class CounterPin:
    """A pulse is counted when the pin goes low."""

    def __init__(self, number, counter):
        self.pin = Pin(number, Pin.IN, Pin.PULL_UP)
        self.counter = counter

    def edge(self, _):
        self.counter.pulse(ticks_ms())


def arm(number):
    """A function that reads the analog pin as 0…4095."""
    adc = ADC(number)
    return lambda: adc.read_u16() >> 4


def run():
    """For as long as there is power."""
    micropython.kbd_intr(-1)  # a 0x03 on the line is noise, not somebody who wants to stop the adapter
    out, poll = sys.stdout.buffer, select.poll()
    poll.register(sys.stdin, select.POLLIN)
    pins = [LevelPin(n) for n in board.LEVELS]
    period = time.ticks_add(0, -1) + 1
    adapter = line.Adapter(
        board.NAME,
        [p.closed for p in pins],
        len(board.COUNTERS),
        [arm(n) for n in board.ANALOGS],
        out.write,
        ticks_ms(),
        period,
    )
    for pin, level in zip(pins, adapter.levels):  # noqa: B905 - MicroPython's zip knows no strict
        pin.level = level
        pin.pin.irq(pin.edge, Pin.IRQ_FALLING | Pin.IRQ_RISING, hard=True)
    counters = [CounterPin(n, c) for n, c in zip(board.COUNTERS, adapter.counters)]  # noqa: B905
    for counter in counters:
        counter.pin.irq(counter.edge, Pin.IRQ_FALLING, hard=True)
    while True:
        adapter.step(ticks_ms())
        for _ in poll.ipoll(0):  # which makes no list to be collected later
            adapter.hear(sys.stdin.buffer.read(1))


if Pin(board.SERVICE, Pin.IN, Pin.PULL_UP).value():
    run()
