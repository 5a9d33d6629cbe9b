"""Wire lines parsed, checked and dated, beside splitting them and the pure-Python CRC of crccheck.

Ours finds the lines in the bytes, checks all that wire.md asks, and maps every tick (the line's and each pulse's) through
the hull of the last two minutes. The peer splits at line ends and blanks, checks the CRC, and maps the same ticks by the
least delay that it has seen.
"""

from __future__ import annotations

from collections.abc import Iterator

from crccheck.crc import Crc16CcittFalse

from benchmarks._row import Row, beside, cpu_s, interleaved, run
from benchmarks._wire_lines import dated, wire_lines

LINES = 20_000
ROUNDS = 5
HEARD = list[tuple[float, bytes]]


def theirs(heard: HEARD) -> list[float]:
    """The same."""
    dated: list[float] = []
    least_s = float("inf")
    whole = 0
    for at_s, data in heard:
        for piece in data.split(b"\n"):
            body, star, crc = piece.rpartition(b"*")
            if not star or int(crc, 16) != Crc16CcittFalse.calc(body):
                continue
            kind, _, tick, *fields = body.decode("ascii").split(" ")
            whole += 1
            least_s = min(least_s, at_s - int(tick) / 1000.0)
            if kind == "CT":
                for field in fields:
                    count, _, pulse = field.partition("@")
                    int(count)
                    dated.append(int(pulse) / 1000.0 + least_s)
    if whole != LINES:
        raise AssertionError(f"{whole} of {LINES} lines were read")
    return dated


def measure() -> Iterator[Row]:
    heard = wire_lines(LINES)
    if len(dated(heard)) != len(theirs(heard)):
        raise AssertionError("the two do not find the same pulses")
    found = interleaved(
        {
            "ours": lambda: LINES / cpu_s(lambda: dated(heard)),
            "theirs": lambda: LINES / cpu_s(lambda: theirs(heard)),
        },
        ROUNDS,
    )
    yield beside(
        "wire lines parsed and their ticks dated", "lines/s", found["ours"], "split and crccheck", found["theirs"],
        at_least=1.0, more_is_better=True,
    )  # fmt: skip


if __name__ == "__main__":
    run(measure)
