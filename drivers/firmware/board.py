"""What is wired to this board. The one file to edit; docs/hardware.md has the drawing.

Numbers are the chip's GPIO numbers, not the pins' places on the board. The first of ``LEVELS`` is input 0
of the show file's ``[adapter.levels]``, and so on.
"""

NAME = "north"
"""The adapter's name in the show file; no spaces."""

LEVELS = (2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13)
"""Contacts, each between its pin and ground; the pull-up is the board's own."""

COUNTERS = (16, 17, 18, 19)
"""Pulse outputs that pull their pin to ground; one pulse is counted each time that they begin to."""

ANALOGS = ()
"""Accumulator arms on the analog pins (26, 27, 28): 0 to 3.3 V, never more."""

SERVICE = 22
"""With this pin on ground at power-up the firmware does not begin, so that files can be changed."""
