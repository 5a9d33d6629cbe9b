"""One connection to a line of Modbus modules: pymodbus, with its ways of saying no made into two."""

from __future__ import annotations

import asyncio
import logging
from pathlib import Path
from typing import TYPE_CHECKING

from drivers.modbus_options import ModbusOptions
from drivers.modbus_reads import Answer, Read
from interlock.text import clean

if TYPE_CHECKING:
    from pymodbus.client.base import ModbusBaseClient

logging.getLogger("pymodbus").addHandler(logging.NullHandler())  # a dead module is no news for a terminal

REFUSALS = {1: "illegal function", 2: "illegal data address", 3: "illegal data value"}
"""Exception codes of the Modbus application protocol that mean: never ask me this."""
TROUBLES = {
    4: "device failure",
    5: "acknowledge",
    6: "busy",
    8: "memory parity error",
    10: "its gateway has no path to it",
    11: "its gateway gets no answer from it",
}


class Silent(Exception):
    """A read that was not answered (``heard`` False), or not with anything that can be used; why, in words."""

    def __init__(self, text: str, *, heard: bool) -> None:
        super().__init__(text)
        self.heard = heard


class Connection:
    """Opened once, and never again by itself."""

    def __init__(self, options: ModbusOptions) -> None:
        self._client = _client(options)

    async def open(self) -> bool:
        """Whether it is open now."""
        try:
            opened = await self._client.connect()
        except ValueError:  # a baud rate that this device cannot do
            opened = False
        _end_if_cancelled()
        return opened

    def is_open(self) -> bool:
        """Whether it still is."""
        return self._client.connected

    def close(self) -> None:
        """Give it back; a socket is closed in the loop's next round."""
        self._client.close()

    async def ask(self, unit: int, read: Read) -> tuple[Answer | None, str]:
        """The answer, or None and why it was refused. Raises :class:`Silent`."""
        from pymodbus.exceptions import ModbusException  # noqa: PLC0415 - an extra

        client = self._client
        how = {
            "discrete": client.read_discrete_inputs,
            "coil": client.read_coils,
            "input": client.read_input_registers,
            "holding": client.read_holding_registers,
        }[read.table]
        try:
            said = await how(read.at, count=read.count, device_id=unit)
        except ModbusException as error:
            text = "does not answer: has it power, and are its unit number and the line's settings right?"
            _end_if_cancelled()
            raise Silent(text, heard=False) from error
        _end_if_cancelled()
        if said.isError():
            code = int(getattr(said, "exception_code", 0))
            if code in REFUSALS:
                return None, REFUSALS[code]
            raise Silent(f"reports trouble: {TROUBLES.get(code, f'exception {code}')}", heard=True)
        bits = read.table in ("discrete", "coil")
        got = said.bits if bits else said.registers
        # An answer that came too late for the request before has the same form: its size at least must fit.
        if not (read.count <= len(got) < read.count + 8 if bits else len(got) == read.count):
            raise Silent("answers with something else than was asked", heard=True)
        return tuple(int(v) for v in got[: read.count]), ""


def _end_if_cancelled() -> None:
    """pymodbus waits with ``asyncio.wait_for``, which in Python 3.11 forgets a cancellation that comes together
    with what it waits for.
    """
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError


def _client(o: ModbusOptions) -> ModbusBaseClient:
    """The client, not connected; it never reconnects by itself."""
    from pymodbus import FramerType  # noqa: PLC0415 - an extra
    from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient  # noqa: PLC0415

    timeout_s = o.timeout_ms / 1000.0
    if o.port is not None:
        return AsyncModbusSerialClient(
            o.port,
            baudrate=o.baud or 0,
            parity=o.parity[0].upper(),
            stopbits=o.stop_bits,
            timeout=timeout_s,
            retries=0,
            reconnect_delay=0,
        )
    framer = FramerType.RTU if o.rtu_over_tcp else FramerType.SOCKET
    return AsyncModbusTcpClient(
        str(o.host), port=o.tcp_port, framer=framer, timeout=timeout_s, retries=0, reconnect_delay=0
    )


def why_not(o: ModbusOptions) -> str:
    """Why it cannot be opened, for a person."""
    if o.port is None:
        return clean(f"{o.host}:{o.tcp_port} cannot be reached; trying again")
    if not Path(o.port).exists():
        return clean(f"{o.port}: there is no such device; trying again")
    return clean(f"{o.port} cannot be opened: may this user, and has no other program got it? trying again")
