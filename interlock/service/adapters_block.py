"""The ``[[adapter]]`` block of a show file for an adapter that was found, and its way into the file."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

import tomlkit
from tomlkit.exceptions import ParseError, TOMLKitError

from drivers.probe import Input, Probe
from interlock.errors import Mistake, ShowFileError, UsageError

DEFAULT_BAUD = 115200
MOST_BYTES = 1_000_000
LEVELS = ("run", "lamp", "dowser", "film")


def block(probe: Probe, baud: int) -> str:
    """TOML that is whole as it stands; each input is a comment until somebody says what it is wired to.

    An adapter on USB is given by its serial number, so that it is found again under whatever name.
    """
    h = probe.hello
    assert h is not None
    place = probe.port.usb_serial
    rows = [
        "[[adapter]]",
        f"name = {_text(probe.name)}",
        'driver = "serial"',
        f"usb_serial = {_text(place)}   # today {_comment(probe.port.device)}"
        if place
        else f"port = {_text(probe.port.device)}",
    ]
    if baud != DEFAULT_BAUD:
        rows.append(f"baud = {baud}")
    rows.append(f"# {probe.sizes()}. Take away the # of what is wired, and put in your own houses.")
    if h.levels:
        rows.append("[adapter.levels]")
        rows += [
            f'# {k} = "1.{LEVELS[k % len(LEVELS)]}"{_moved(probe.levels.get(k))}' for k in range(h.levels)
        ]
    if h.counters:
        rows.append("[adapter.counters]")
        rows += [
            f'# {k} = {{ signal = "1.frames", frames_per_pulse = 1 }}{_moved(probe.counters.get(k))}'
            for k in range(h.counters)
        ]
    if h.analogs:
        rows.append("[adapter.analogs]")
        rows += [_arm(k, probe.analogs.get(k)) for k in range(h.analogs)]
    return "\n".join(rows) + "\n"


def _text(value: str) -> str:
    return str(tomlkit.item(value).as_string())


def _comment(value: str) -> str:
    return "".join(c for c in value if c.isprintable())


def _moved(one: Input | None) -> str:
    return "   # moved while it was watched" if one is not None and one.moved_s is not None else ""


def _arm(k: int, one: Input | None) -> str:
    if one is None or one.moved_s is None:
        return f'# {k} = {{ signal = "1>2.arm", tight_at = 0, spill_at = 4095 }}'
    limits = f"tight_at = {one.low}, spill_at = {one.high}"
    return f'# {k} = {{ signal = "1>2.arm", {limits} }}   # moved between these while it was watched'


def room_for(path: Path, names: Sequence[str]) -> str:
    """The file's text, if adapters of these names can be added to it.

    Raises ``ShowFileError`` for a file that is no TOML or has an adapter of that name, ``UsageError``
    for one that cannot be read.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
        if len(raw) > MOST_BYTES:
            raise UsageError(f"{path} is larger than {MOST_BYTES:,} bytes: is it a show file?")
        text = raw.decode()
    except FileNotFoundError:
        raise UsageError(f"{path}: there is no such file; `--write -` prints the block instead") from None
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{path} cannot be read: {error}") from error
    try:
        there = tomlkit.parse(text).unwrap().get("adapter", [])
    except ParseError as error:
        raise ShowFileError(str(path), [Mistake(error.line, "TOML", str(error))]) from error
    have = [a.get("name") for a in there if isinstance(a, dict)] if isinstance(there, list) else []
    for name in names:
        if name in have:
            why = (
                f"an adapter called {name} is there already; take that one out, or give this one another name"
            )
            raise ShowFileError(str(path), [Mistake(_line_of(text, name), "adapter", why)])
    return text


def append(path: Path, blocks: Sequence[str], names: Sequence[str]) -> None:
    """Put the blocks at the file's end; every byte that is there stays.

    Raises what :func:`room_for` raises, and ``UsageError`` if it cannot be written. Then nothing has changed.
    """
    text = room_for(path, names)
    ends = "\r\n" if "\r\n" in text else "\n"
    added = text if not text or text.endswith("\n") else text + ends
    added += "".join(ends + one.replace("\n", ends) for one in blocks)
    try:
        tomlkit.parse(added)
    except TOMLKitError as error:  # `adapter = […]` in one line cannot be gone on with
        raise ShowFileError(
            str(path), [Mistake(0, "adapter", "is not written as [[adapter]]; `--write -` prints the block")]
        ) from error
    _replace(path, added)


def _line_of(text: str, name: str) -> int:
    for number, row in enumerate(text.splitlines(), 1):
        if row.lstrip().startswith("name") and name in row:
            return number
    return 0


def _replace(path: Path, text: str) -> None:
    """All of it or nothing."""
    target = path.resolve()
    name = ""
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(target.stat().st_mode & 0o777)
        Path(name).replace(target)
    except OSError as error:
        if name:
            with suppress(OSError):
                Path(name).unlink()
        raise UsageError(f"{path} cannot be written: {error.strerror or error}") from error
