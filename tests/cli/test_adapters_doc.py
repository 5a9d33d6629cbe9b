"""The hardware page keeps step with the program: its examples are read by it, and what it quotes is said by it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from drivers.driver import find
from drivers.firmware import board
from interlock.clock import VirtualClock
from interlock.service.shows import read_show

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "hardware.md").read_text()
EXAMPLES = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


def test_there_is_an_example_for_each_way_in() -> None:
    assert [re.findall(r'driver = "(\w+)"', e)[0] for e in EXAMPLES] == ["serial", "modbus", "gpio"]


@pytest.mark.parametrize("example", EXAMPLES, ids=["serial", "modbus", "gpio"])
def test_each_example_is_a_whole_adapter_of_a_show(example: str, tmp_path: Path) -> None:
    text = (ROOT / "configs" / "two-house.toml").read_text()
    show = tmp_path / "show.toml"
    show.write_text(text[: text.index("[[adapter]]")] + example)
    (spec,) = read_show(show).adapters
    find(spec.driver)(spec, VirtualClock())


@pytest.mark.parametrize(
    ("words", "source"),
    [
        ("not a word: no adapter, or one without its firmware", "drivers/probe.py"),
        ("what comes in is no adapter line: is the baud rate right?", "drivers/serial_session.py"),
        ("another program has it open", "drivers/serial_port.py"),
        ("are two adapters swapped?", "drivers/serial_greeting.py"),
        ("damaged lines", "interlock/service/adapters_view.py"),
        ("does not answer: ", "drivers/modbus_client.py"),
        ("illegal data address", "drivers/modbus_client.py"),
    ],
)
def test_what_the_page_quotes_is_what_the_program_says(words: str, source: str) -> None:
    assert words in PAGE
    assert words in (ROOT / source).read_text()


def test_the_pages_pins_are_the_boards() -> None:
    assert "levels 0…11 on GPIO 2…13, counters 0…3 on GPIO 16…19" in PAGE
    assert "from GPIO 22 to\n   ground" in PAGE
    assert list(board.LEVELS) == list(range(2, 14))
    assert list(board.COUNTERS) == list(range(16, 20))
    assert board.SERVICE == 22
    assert not board.ANALOGS
