"""The page from which anybody can build an adapter: its examples are lines of the driver's, and its numbers the driver's own."""

from __future__ import annotations

from binascii import crc_hqx
from pathlib import Path

from wire_examples import EXAMPLES

from drivers import wire

PAGE = (Path(__file__).parents[2] / "docs" / "adapter-line.md").read_text(encoding="utf-8")


def test_the_pages_examples_are_those_that_the_parser_is_held_to() -> None:
    shown = PAGE.split("## Examples")[1].split("## ")[0]
    assert [line.strip() for line in shown.splitlines() if line.strip()] == EXAMPLES.decode().splitlines()


def test_the_pages_numbers_are_the_drivers() -> None:
    for words in (
        f"of `123456789` it is `{crc_hqx(b'123456789', 0xFFFF):04X}`",
        f"at most {wire.MAX_LINE} bytes",
        f"(at most {wire.MAX_COUNTERS})",
        f"0 to {wire.SEQ_MODULUS - 1} ",
        f"0 to {wire.TICK_MASK} ",
        f"0 to {wire.ANALOG_MAX} ",
    ):
        assert words in PAGE, words
