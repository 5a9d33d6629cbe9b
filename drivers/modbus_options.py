"""What a show file says of ``driver = "modbus"``: the line, its modules, and which of their bits and registers is which input.

::

    [[adapter]]
    name   = "south"
    driver = "modbus"
    port   = "/dev/ttyUSB0"          # RTU; or host = "192.0.2.7" (and tcp_port) for TCP
    baud   = 9600
    [[adapter.devices]]
    unit = 1
    levels   = [{ table = "discrete", at = 0, count = 8 }]                  # are inputs 0…7
    counters = [{ number = 0, table = "input", at = 16, bits = 32, words = "low-first" }]
    [[adapter.devices]]
    unit = 2
    levels   = [{ table = "discrete", at = 0, count = 8, first = 8 }]       # are inputs 8…15
    analogs  = [{ number = 0, table = "input", at = 0 }]

Addresses are those of the protocol, from 0; a manual that counts from 1, or says 30017, means 16.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, model_validator

Table: TypeAlias = Literal["discrete", "coil", "input", "holding"]
Registers: TypeAlias = Literal["input", "holding"]

MOST_INPUTS = 256


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class LevelBlock(_Section):
    """Contacts that stand side by side: bits, or the bits of registers (lowest bit first)."""

    table: Table
    at: int = Field(0, ge=0, le=65535)
    """Address of the first bit, or of the register that holds the first bits."""
    count: int = Field(8, ge=1, le=MOST_INPUTS)
    """How many contacts."""
    first: int = Field(0, ge=0, le=1023)
    """Input number of the first of them."""

    @model_validator(mode="after")
    def _within(self) -> LevelBlock:
        if self.at + self.words > 65536:
            raise ValueError(f"at {self.at} with count {self.count} goes beyond address 65535")
        return self

    @property
    def words(self) -> int:
        """Bits or registers to read."""
        return self.count if self.table in ("discrete", "coil") else (self.count + 15) // 16


class CounterBlock(_Section):
    """One pulse counter."""

    number: int = Field(ge=0, le=255)
    """Counter number of the show file."""
    table: Registers = "input"
    at: int = Field(ge=0, le=65535)
    bits: Literal[16, 32] = 16
    words: Literal["high-first", "low-first"] = "high-first"
    """Which half of a 32-bit counter stands at the lower address; modules differ."""
    wraps_at: int | None = Field(None, ge=100, le=1 << 32)
    """What it counts to before it goes to 0, where that is not 2 to the power of ``bits``."""

    @model_validator(mode="after")
    def _fits(self) -> CounterBlock:
        if self.wraps_at is not None and self.wraps_at > 1 << self.bits:
            raise ValueError(f"wraps_at {self.wraps_at} is more than {self.bits} bits can count")
        if self.at + self.bits // 16 > 65536:
            raise ValueError(f"at {self.at} with {self.bits} bits goes beyond address 65535")
        return self

    @property
    def modulus(self) -> int:
        """Pulses once round."""
        return self.wraps_at or 1 << self.bits

    def value(self, registers: tuple[int, ...]) -> int:
        """The raw count, of the registers from ``at`` on."""
        if self.bits == 16:
            return registers[0]
        high, low = registers if self.words == "high-first" else registers[::-1]
        return high << 16 | low


class AnalogBlock(_Section):
    """One accumulator arm."""

    number: int = Field(ge=0, le=255)
    table: Registers = "input"
    at: int = Field(ge=0, le=65535)
    signed: bool = False
    """Two's complement."""

    def value(self, register: int) -> int:
        """The raw value."""
        return register - 65536 if self.signed and register >= 32768 else register


class DeviceOptions(_Section):
    """One module on the line."""

    unit: int = Field(ge=0, le=247)
    """Its address; 0 only over TCP, for a module that is alone behind its host."""
    name: str | None = Field(None, min_length=1, max_length=60)
    """What people call it; default: its unit."""
    levels: list[LevelBlock] = Field([], max_length=64)
    counters: list[CounterBlock] = Field([], max_length=64)
    analogs: list[AnalogBlock] = Field([], max_length=64)


class ModbusOptions(_Section):
    """Keys of ``[[adapter]]`` for ``driver = "modbus"``."""

    port: str | None = Field(None, min_length=1, max_length=300)
    """A serial device, for RTU."""
    baud: int | None = Field(None, ge=300, le=4_000_000)
    """Bits a second of the serial line; the modules' own."""
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: Literal[1, 2] = 1
    host: str | None = Field(None, min_length=1, max_length=253)
    """A module's or a gateway's address, for TCP."""
    tcp_port: int = Field(502, ge=1, le=65535)
    rtu_over_tcp: bool = False
    """A serial server that only passes bytes on, instead of a gateway that speaks Modbus TCP."""
    poll_ms: int = Field(50, ge=10, le=200)
    """Every module is asked this often, if the line is fast enough."""
    timeout_ms: int = Field(150, ge=20, le=2000)
    """How long an answer may take."""
    devices: list[DeviceOptions] = Field(min_length=1, max_length=64)

    @model_validator(mode="after")
    def _one_line(self) -> ModbusOptions:
        if (self.port is None) == (self.host is None):
            found = "neither" if self.port is None else "both"
            raise ValueError(
                f"found {found} of port and host, expected either port (a serial line) or host (TCP)"
            )
        if self.port is not None and self.baud is None:
            raise ValueError("a serial line needs baud, the one that its modules are set to (often 9600)")
        units = [d.unit for d in self.devices]
        for unit in units:
            if units.count(unit) > 1:
                raise ValueError(f"unit {unit} stands in devices more than once")
        if self.port is not None and 0 in units:
            raise ValueError(
                "unit 0 on a serial line is everybody, and nobody answers: give the module's own"
            )
        return self
