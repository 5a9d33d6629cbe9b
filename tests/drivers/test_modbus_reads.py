"""Modbus without a line: frames against published examples, and registers into values."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.bit_message import ReadCoilsRequest, ReadDiscreteInputsRequest
from pymodbus.pdu.register_message import ReadHoldingRegistersRequest, ReadInputRegistersRequest

from drivers.modbus import ModbusDriver
from drivers.modbus_options import CounterBlock, ModbusOptions
from drivers.modbus_reads import Module, Read, counts_of, mask_of, modules, raws_of
from interlock.clock import VirtualClock
from interlock.errors import OptionError
from interlock.showfile.load import load_show
from interlock.signals import AdapterSpec, AnalogWire, CounterWire, Wiring

EXAMPLES = [
    # [P] Modbus Application Protocol V1.1b3, the examples of 6.1 to 6.4, as several independent public texts quote them
    # (for 6.2: "inputs 197 to 218, start 00C4, quantity 0016, answer AC DB 35"); the document itself was not at hand.
    (ReadCoilsRequest(address=0x13, count=0x13), "01 00 13 00 13", "01 03 CD 6B 05"),
    (ReadDiscreteInputsRequest(address=0xC4, count=0x16), "02 00 C4 00 16", "02 03 AC DB 35"),
    (ReadHoldingRegistersRequest(address=0x6B, count=3), "03 00 6B 00 03", "03 06 02 2B 00 00 00 64"),
    (ReadInputRegistersRequest(address=8, count=1), "04 00 08 00 01", "04 02 00 0A"),
]


def test_the_crc_is_the_published_one() -> None:
    # CRC-16/MODBUS of 123456789 is 4B37 [P] CRC catalogues; on the line its low byte comes first
    assert FramerRTU.compute_CRC(b"123456789") == int.from_bytes(bytes.fromhex("374B"))


@pytest.mark.parametrize(("request_", "asked", "answered"), EXAMPLES)
def test_requests_and_answers_are_the_published_examples(request_: Any, asked: str, answered: str) -> None:
    request_.dev_id = 17
    frame = FramerRTU(DecodePDU(False)).buildFrame(request_)
    assert frame[:-2] == b"\x11" + bytes.fromhex(asked)
    body = b"\x11" + bytes.fromhex(answered)
    whole = body + FramerRTU.compute_CRC(body).to_bytes(2, "big")
    _, said = FramerRTU(DecodePDU(False)).handleFrame(whole, 17, 0)
    assert said is not None
    assert said.function_code == request_.function_code


@pytest.mark.parametrize(
    ("request_", "whole"),
    [
        (ReadCoilsRequest(address=0x13, count=0x25), "11 01 00 13 00 25 0E 84"),
        (ReadDiscreteInputsRequest(address=0xC4, count=0x16), "11 02 00 C4 00 16 BA A9"),
        (ReadHoldingRegistersRequest(address=0x6B, count=3), "11 03 00 6B 00 03 76 87"),
        (ReadInputRegistersRequest(address=8, count=1), "11 04 00 08 00 01 B2 98"),
    ],
)
def test_whole_rtu_frames_are_the_published_ones_crc_included(request_: Any, whole: str) -> None:
    # [P] the older protocol guide's examples for device 17, as vendors' manuals and public texts quote them with their CRC
    request_.dev_id = 17
    assert FramerRTU(DecodePDU(False)).buildFrame(request_) == bytes.fromhex(whole)


def test_the_published_answers_read_as_they_are_explained_there() -> None:
    # [P] the same examples: outputs 27-20 are CD, bit by bit 1100 1101 from 27 down to 20; registers 022B, 0000, 0064
    _, coils = FramerRTU(DecodePDU(False)).handleFrame(_rtu("01 03 CD 6B 05"), 17, 0)
    _, held = FramerRTU(DecodePDU(False)).handleFrame(_rtu("03 06 02 2B 00 00 00 64"), 17, 0)
    assert coils is not None
    assert held is not None
    assert coils.bits[:8] == [True, False, True, True, False, False, True, True]
    assert held.registers == [555, 0, 100]
    read = Read("coil", 0x13, 0x13)
    module = Module(17, "unit 17", (read,), tuple((k, read, k) for k in range(8)), (), ())
    closed = mask_of(module, {read: tuple(int(b) for b in coils.bits[:19])})
    assert [k for k, v in closed.items() if v] == [0, 2, 3, 6, 7]


def _rtu(pdu: str) -> bytes:
    body = b"\x11" + bytes.fromhex(pdu)
    return body + FramerRTU.compute_CRC(body).to_bytes(2, "big")


def test_over_tcp_the_frame_bears_the_published_header() -> None:
    # [P] the header of Modbus Messaging on TCP/IP, 4.4.2: transaction 15 01, protocol 0, length 6, unit FF, as public texts
    # quote it; and then the PDU of "read register 5"
    request = ReadHoldingRegistersRequest(address=4, count=1, dev_id=0xFF, transaction_id=0x1501)
    frame = FramerSocket(DecodePDU(False)).buildFrame(request)
    assert frame == bytes.fromhex("15 01 00 00 00 06 FF 03 00 04 00 01")


# What is read. ────────────────────────────────────────────────────────────────


def options(*devices: dict[str, Any]) -> ModbusOptions:
    return ModbusOptions.model_validate({"host": "192.0.2.1", "devices": list(devices)})


WIRING = Wiring(
    levels={0: "4.run", 9: "4.lamp", 10: "!4.dowser"},
    counters={0: CounterWire("4.frames"), 1: CounterWire("3.frames", 0.25)},
    analogs={0: AnalogWire("4>3.arm", 310, 3800)},
)
ONE = {
    "unit": 1,
    "levels": [
        {"table": "discrete", "at": 32, "count": 8},
        {"table": "holding", "at": 5, "count": 20, "first": 8},
    ],
    "counters": [{"number": 0, "at": 16, "bits": 32}],
}
TWO = {
    "unit": 2,
    "counters": [{"number": 1, "table": "holding", "at": 2}],
    "analogs": [{"number": 0, "at": 18, "signed": True}],
}


def test_only_what_is_wired_is_read_and_neighbours_together() -> None:
    one, two = modules(options(ONE, TWO), WIRING)
    assert one.reads == (Read("discrete", 32, 1), Read("holding", 5, 1), Read("input", 16, 2))
    assert two.reads == (Read("holding", 2, 1), Read("input", 18, 1))
    answers = {one.reads[0]: (1,), one.reads[1]: (0b100,), one.reads[2]: (1, 2)}
    assert mask_of(one, answers) == {0: True, 9: False, 10: True}
    assert [(c.number, v) for c, v in counts_of(one, answers)] == [(0, 65538)]
    assert raws_of(two, {two.reads[1]: (65535,)}) == [(0, -1)]
    assert mask_of(one, {}) == {}, "what was not answered is not said"


def test_a_register_between_two_that_are_wired_is_not_touched() -> None:
    wiring = Wiring(counters={0: CounterWire("4.frames"), 1: CounterWire("3.frames")})
    device = {"unit": 1, "counters": [{"number": 0, "at": 4}, {"number": 1, "at": 6}]}
    assert modules(options(device), wiring)[0].reads == (Read("input", 4, 1), Read("input", 6, 1))


def test_a_32_bit_counter_is_never_cut_in_two() -> None:
    wiring = Wiring(counters={k: CounterWire(f"{k}.frames") for k in range(63)})
    counters = [{"number": k, "at": 2 * k, "bits": 32} for k in range(63)]
    (module,) = modules(options({"unit": 1, "counters": counters}), wiring)
    assert module.reads == (Read("input", 0, 124), Read("input", 124, 2))


@given(st.integers(0, 2**32 - 1))
def test_both_word_orders_give_the_count(count: int) -> None:
    high, low = count >> 16, count & 0xFFFF
    assert CounterBlock(number=0, at=0, bits=32).value((high, low)) == count
    assert CounterBlock(number=0, at=0, bits=32, words="low-first").value((low, high)) == count


@pytest.mark.parametrize(
    ("devices", "words"),
    [
        ([ONE], "counters 1 are wired, and no device says where"),
        ([ONE, TWO, TWO | {"unit": 3}], "counter input 1 is read at two places"),
        ([ONE | {"levels": [{"table": "coil", "at": 65530}]}], "beyond address 65535"),
        ([TWO | {"counters": [{"number": 1, "at": 0, "wraps_at": 100_000}]}], "more than 16 bits can count"),
        ([TWO | {"counters": [{"number": 1, "at": 0, "bits": 24}]}], "16 or 32"),
        ([TWO | {"counters": [{"number": 1}]}], "at: Field required"),
        ([TWO | {"unit": "2"}], "unit"),
    ],
)
def test_mistakes_are_told_in_a_sentence(devices: list[Any], words: str) -> None:
    spec = AdapterSpec("south", "modbus", {"host": "192.0.2.1", "devices": devices}, WIRING)
    with pytest.raises(OptionError, match="south") as error:
        ModbusDriver(spec, VirtualClock())
    assert words in str(error.value)


def test_a_whole_show_file_with_modules_is_read_and_its_mistakes_told_by_line(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "configs" / "two-house.toml").read_text()
    text = text[: text.index("[[adapter]]")] + (
        '[[adapter]]\nname = "south"\ndriver = "modbus"\nport = "/dev/ttyUSB0"\nbaud = 9600\n'
        '[adapter.levels]\n0 = "1.run"\n[[adapter.devices]]\nunit = 1\nlevels = [{ table = "discrete" }]\n'
    )
    path = tmp_path / "show.toml"
    path.write_text(text)
    models = {"modbus": ModbusDriver.Options}
    (spec,) = load_show(path, options=models).adapters
    assert [m.reads for m in ModbusDriver(spec, VirtualClock())._modules] == [(Read("discrete", 0, 1),)]
    path.write_text(text.replace('"discrete"', '"discreet"'))
    with pytest.raises(Exception, match=r"show\.toml:\d+: .*discreet"):
        load_show(path, options=models)
