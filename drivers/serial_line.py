"""``driver = "serial"``: an adapter that speaks the adapter line on anything that pySerial opens.

``port``: a device (``/dev/ttyACM0``, ``COM3``) or a URL (``socket://host:port``, ``rfc2217://…``); or
``usb_serial``: the device's USB serial number, so that it is found again under whatever name it comes
back. ``baud``: 115200 unless told otherwise.
"""

from __future__ import annotations

import asyncio
from typing import ClassVar

import serial
from pydantic import BaseModel, ConfigDict, Field, model_validator
from serial.tools import list_ports

from drivers.driver import Emit, read_options
from drivers.serial_port import CHUNK, PortThread, make_port
from drivers.serial_session import Session
from interlock.clock import Clock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec
from interlock.text import clean

CHUNKS_AT_ONCE = 32
"""Reads worked off before others may run, and no more bytes than ``CHUNK`` (some hundred lines: 2 ms)."""


class SerialOptions(BaseModel):
    """Keys of ``[[adapter]]`` for ``driver = "serial"``."""

    model_config = ConfigDict(extra="forbid")

    port: str | None = Field(None, min_length=1, max_length=300)
    """A device, or a URL that pySerial opens."""
    usb_serial: str | None = Field(None, min_length=1, max_length=300)
    """The device's USB serial number, instead of ``port``."""
    baud: int = Field(115200, strict=True, ge=50, le=4_000_000)
    """Bits a second."""

    @model_validator(mode="after")
    def _one_place(self) -> SerialOptions:
        if (self.port is None) == (self.usb_serial is None):
            found = "neither" if self.port is None else "both"
            raise ValueError(f"found {found} of port and usb_serial, expected either port or usb_serial")
        return self


class SerialDriver:
    """Serves one adapter on a serial line; see :class:`drivers.driver.Driver`."""

    Options: ClassVar[type[BaseModel]] = SerialOptions

    def __init__(self, spec: AdapterSpec, clock: Clock) -> None:
        """Raises ``OptionError`` if the options make no sense; opens nothing yet."""
        self.spec = spec
        self.options = read_options(SerialOptions, spec)
        self._clock = clock
        if self.options.port is not None:
            try:
                make_port(self.options.port, self.options.baud)
            # KeyError and TypeError are how pySerial's own complaints about a URL go wrong.
            except (ValueError, KeyError, TypeError, serial.SerialException) as error:
                text = f"{self.options.port!r} is neither a device (/dev/ttyACM0, COM3) nor a URL that can be opened"
                text = f"{text} (socket://HOST:PORT, rfc2217://HOST:PORT)"
                raise OptionError(clean(f"adapter {spec.name} (serial): port: {text}", 500)) from error
        self._place = clean(
            self.options.port or f"the device with USB serial number {self.options.usb_serial}"
        )

    async def run(self, emit: Emit) -> None:
        """Serve until cancelled; closes the port within a second."""
        port = PortThread(self._find, self.options.baud, self._clock, self.spec.name)
        session = Session(self.spec, self._place, emit, port.write)
        port.start()
        try:
            while True:
                size = 0
                for event in await port.take(CHUNKS_AT_ONCE):
                    if event.kind == "data":
                        session.data(event.at_s, event.data)
                    elif event.kind == "opened":
                        session.opened(event.at_s)
                    else:
                        session.gone(event.at_s, event.text)
                    size += len(event.data)
                    if size >= CHUNK:
                        size = 0
                        await asyncio.sleep(0)  # a flood must not keep the loop from the others
                await asyncio.sleep(0)
        finally:
            await port.close()

    def _find(self) -> str:
        """Where the port is now, looked up each time that it is to be opened. Runs in the port's thread."""
        if self.options.port is not None:
            return self.options.port
        wanted = str(self.options.usb_serial).casefold()
        found = sorted(
            p.device for p in list_ports.comports() if (p.serial_number or "").casefold() == wanted
        )
        if not found:
            raise OSError("it is not plugged in")
        return str(found[0])
