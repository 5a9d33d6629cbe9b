"""``longlace adapters``: the ports of this computer, what answers on them, and what its inputs do."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec
from rich.console import Console
from rich.live import Live

from drivers.probe import Input, Kind, Port, Probe, ports
from interlock.clock import Clock, SystemClock
from interlock.errors import UsageError
from interlock.service.adapters_block import append, block, room_for
from interlock.service.adapters_view import draw, moved
from interlock.text import clean

LOOK_S = 0.05
REDRAW_S = 0.1


class Wanted(msgspec.Struct, frozen=True):
    """What was asked for. ``screen``: standard output is a terminal that may be drawn on."""

    ports: tuple[str, ...] = ()
    baud: int = 115200
    wait_s: float = 2.5
    live: bool = False
    for_s: float | None = None
    write: str | None = None
    json: bool = False
    screen: bool = False


async def adapters(wanted: Wanted, clock: Clock | None = None) -> int:
    """The exit code: 1 where no adapter answers."""
    clock = clock or SystemClock()
    there = [Port(p) for p in wanted.ports] or ports()
    if not there:
        if wanted.json:
            sys.stdout.write('{"ports":[]}\n')
        sys.stderr.write(
            "There is no serial port. Is the adapter plugged in, by a cable that carries data?\n"
        )
        return 1
    tell = _Teller(wanted)
    probes = [Probe(port, wanted.baud, clock) for port in there]
    tasks = [asyncio.create_task(probe.run(), name=probe.port.device) for probe in probes]
    try:
        ends_s = clock.now_s() + wanted.wait_s
        while clock.now_s() < ends_s and not all(p.settled for p in probes):
            _raise_if_failed(tasks)
            await clock.sleep_until(clock.now_s() + LOOK_S)
        found = [p for p in probes if p.verdict == "adapter"]
        sys.stdout.write(_json(probes) if wanted.json else _words(probes))
        sys.stdout.flush()
        if not found:
            return 1
        _refuse_what_cannot_be_written(found, wanted)  # before somebody has closed twelve contacts for it
        if wanted.live:
            for probe in found:
                probe.on_move(tell.moved)
            await _watch(found, wanted, clock, tasks)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    if wanted.write is not None:
        _write(found, wanted)
    return 0


class _Teller:
    """Moves as lines, where nothing is drawn."""

    def __init__(self, wanted: Wanted) -> None:
        self._silent = wanted.screen or wanted.json
        self._running: set[tuple[str, int]] = set()

    def moved(self, probe: Probe, kind: Kind, number: int, one: Input) -> None:
        # A counter at 24 pulses a second would hide the contact that somebody waits for: its first move is told.
        if self._silent or (kind == "counter" and (probe.port.device, number) in self._running):
            return
        if kind == "counter":
            self._running.add((probe.port.device, number))
        sys.stdout.write(moved(probe, kind, number, one) + "\n")
        sys.stdout.flush()


async def _watch(found: list[Probe], wanted: Wanted, clock: Clock, tasks: list[asyncio.Task[None]]) -> None:
    """Until Enter, or the time is over."""
    done = asyncio.Event()
    loop = asyncio.get_running_loop()

    def entered() -> None:
        sys.stdin.readline()
        done.set()

    as_it_was = _echo_off() if wanted.screen else lambda: None
    if wanted.screen:
        loop.add_reader(sys.stdin.fileno(), entered)
    ends_s = float("inf") if wanted.for_s is None else clock.now_s() + wanted.for_s
    try:
        if not wanted.screen:
            while clock.now_s() < ends_s:
                _raise_if_failed(tasks)
                await clock.sleep_until(min(ends_s, clock.now_s() + REDRAW_S))
            return
        with Live(draw(found, clock.now_s()), console=Console(), auto_refresh=False) as view:
            while clock.now_s() < ends_s and not done.is_set():
                _raise_if_failed(tasks)
                view.update(draw(found, clock.now_s()), refresh=True)
                await clock.sleep_until(min(ends_s, clock.now_s() + REDRAW_S))
    finally:
        if wanted.screen:
            loop.remove_reader(sys.stdin.fileno())
        as_it_was()


def _echo_off() -> Callable[[], None]:
    """What is typed is not to move what is drawn (Enter would push it up a line). Call what it gives at the end."""
    try:
        import termios  # noqa: PLC0415 - not on every system
    except ImportError:  # pragma: no cover - Windows
        return lambda: None
    fd = sys.stdin.fileno()
    was, now = termios.tcgetattr(fd), termios.tcgetattr(fd)
    now[3] &= ~termios.ECHO
    termios.tcsetattr(fd, termios.TCSADRAIN, now)
    return lambda: termios.tcsetattr(fd, termios.TCSADRAIN, was)


def _raise_if_failed(tasks: Sequence[asyncio.Task[None]]) -> None:
    for task in tasks:
        if task.done():
            task.result()


def _words(probes: Sequence[Probe]) -> str:
    rows = []
    for probe in probes:
        about = f" ({probe.port.description})" if probe.port.description not in ("", "n/a") else ""
        rows.append(f"{clean(probe.port.device)}{about}: {probe.words()}")
    names = [p.name for p in probes if p.verdict == "adapter"]
    rows += [
        f"Two adapters call themselves {name}: give one another NAME in its board.py."
        for name in sorted({n for n in names if names.count(n) > 1})
    ]
    return "".join(row + "\n" for row in rows)


def _json(probes: Sequence[Probe]) -> str:
    rows = []
    for p in probes:
        h = p.hello if p.verdict == "adapter" else None
        rows.append(
            {
                "port": p.port.device,
                "description": p.port.description or None,
                "usb_serial": p.port.usb_serial or None,
                "found": p.verdict,
                "adapter": p.name or None,
                "levels": None if h is None else [bool(p.levels[k].value) for k in sorted(p.levels)],
                "counters": None if h is None else [p.counters[k].value for k in sorted(p.counters)],
                "analogs": None if h is None else [p.analogs[k].value for k in sorted(p.analogs)],
                "text": p.words(),
            }
        )
    return msgspec.json.encode({"ports": rows}).decode() + "\n"


def _refuse_what_cannot_be_written(found: Sequence[Probe], wanted: Wanted) -> None:
    if wanted.write is None:
        return
    names = [p.name for p in found]
    if twice := sorted({n for n in names if names.count(n) > 1}):
        raise UsageError(
            f"two adapters call themselves {twice[0]}, and a show file has room for one of that name; "
            "give one another NAME in its board.py"
        )
    if wanted.write != "-":
        room_for(Path(wanted.write), names)


def _write(found: Sequence[Probe], wanted: Wanted) -> None:
    names = [p.name for p in found]
    blocks = [block(p, wanted.baud) for p in found]
    if wanted.write == "-":
        sys.stdout.write("\n".join(blocks))
    else:
        append(Path(str(wanted.write)), blocks, names)
        sys.stdout.write(f"{clean(str(wanted.write), 4096)}: adapter {', '.join(names)} added at its end\n")
