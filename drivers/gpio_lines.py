"""The lines of a GPIO chip, requested as the options say. The only place that opens one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from drivers.gpio_options import GpioOptions, Line

if TYPE_CHECKING:
    import gpiod

EVENT_BUFFER = 1024
"""Edges that the kernel keeps for us, the most that it gives; with its own 16 a line a busy second would lose the oldest."""
CONSUMER = "longlace"


class Request(Protocol):
    """What is used of ``gpiod.LineRequest``."""

    @property
    def fd(self) -> int: ...
    @property
    def offsets(self) -> list[int]: ...
    def read_edge_events(self, max_events: int | None = None) -> list[gpiod.EdgeEvent]: ...
    def get_values(self, lines: list[int | str] | None = None) -> list[gpiod.line.Value]: ...
    def release(self) -> None: ...


def settings(options: GpioOptions, *, counter: bool) -> gpiod.LineSettings:
    """Edges stamped with the monotonic clock, pull and debounce set; a closed contact is *active* and its edge rising."""
    from datetime import timedelta  # noqa: PLC0415

    import gpiod  # noqa: PLC0415 - an extra
    from gpiod.line import Bias, Clock, Direction, Edge  # noqa: PLC0415

    return gpiod.LineSettings(
        direction=Direction.INPUT,
        edge_detection=Edge.RISING if counter else Edge.BOTH,
        bias={
            "up": Bias.PULL_UP,
            "down": Bias.PULL_DOWN,
            "none": Bias.DISABLED,
            "as-is": Bias.AS_IS,
        }[options.pull],
        active_low=options.closed_is == "low",
        debounce_period=timedelta(
            microseconds=options.counter_debounce_us if counter else options.debounce_us
        ),
        event_clock=Clock.MONOTONIC,
    )


def request(options: GpioOptions) -> Request:
    """All lines in one request, levels first, each in the order of their input numbers.

    One request, so that its edges are numbered together and a gap in the numbers is a loss. Raises
    ``OSError`` or ``ValueError`` (no such chip or line, or somebody else has it).
    """
    import gpiod  # noqa: PLC0415 - an extra

    config: dict[tuple[Line, ...] | Line, gpiod.LineSettings | None] = {}
    for lines, counter in ((options.level_lines, False), (options.counter_lines, True)):
        for _, line in sorted(lines.items()):
            config[line] = settings(options, counter=counter)
    with gpiod.Chip(path_of(options.chip)) as chip:
        return chip.request_lines(config, consumer=CONSUMER, event_buffer_size=EVENT_BUFFER)  # type: ignore[arg-type]


def path_of(chip: str) -> str:
    """The device of a chip that is given by path, name or label; ``OSError`` if there is none."""
    import gpiod  # noqa: PLC0415 - an extra

    for path in (Path(chip), Path("/dev") / chip):
        if path.is_absolute() and path.exists():
            return str(path)
    have = sorted(str(path) for path in Path("/dev").glob("gpiochip*"))
    for device in have:
        with gpiod.Chip(device) as found:
            if found.get_info().label == chip:
                return device
    raise FileNotFoundError(f"there is no GPIO chip {chip!r}; there are: {', '.join(have) or 'none'}")
