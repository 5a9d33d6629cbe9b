"""``--plain``'s two ends: a reader that does not read, a writer that writes nonsense."""

from __future__ import annotations

import asyncio
import json
import os
import threading
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from desk_rig import running

from interlock.service.plain import Output, PlainDesk, plain, read_lines
from interlock.service.sockets import LINE_BYTES
from interlock.watch.state import OperatorLine, ShowLine, encode

AT = "2026-12-05T20:25:00.000Z"


@pytest.fixture
def pipe() -> Iterator[tuple[int, int]]:
    ends = os.pipe()
    yield ends
    for fd in ends:
        with suppress(OSError):  # the test has closed it itself
            os.close(fd)


def test_lines_come_out_whole_and_in_order(pipe: tuple[int, int]) -> None:
    out, into = pipe
    output = Output(into)
    for k in range(500):
        output.put(b"%d\n" % k)
    assert output.close()
    os.close(into)
    with open(out, "rb", closefd=False) as reader:
        assert [int(x) for x in reader] == list(range(500))


def test_whoever_does_not_read_holds_nobody_up_and_is_told_at_the_end(pipe: tuple[int, int]) -> None:
    out, into = pipe
    output = Output(into, most=200_000)
    output.farewell = lambda: b"cut off\n"
    for _ in range(5_000):
        output.put(b"x" * 99 + b"\n")  # returns at once, although nobody reads
    assert output.cut_off
    got = bytearray()

    def drain() -> None:
        while part := os.read(out, 65_536):
            got.extend(part)

    reader = threading.Thread(target=drain)
    reader.start()
    assert output.close()
    os.close(into)
    reader.join()
    *lines, last = bytes(got).splitlines()
    assert set(lines) == {b"x" * 99}
    assert 1_999 <= len(lines) < 5_000
    assert last == b"cut off"


def test_a_reader_that_has_gone_is_noticed_and_nothing_breaks(pipe: tuple[int, int]) -> None:
    out, into = pipe
    os.close(out)
    output = Output(into)
    output.put(b"x\n")
    assert not output.close()
    assert output.broken
    output.put(b"y\n")
    assert output.waiting == 0


@pytest.mark.parametrize("chunk", [1, 7, 65_536])
def test_lines_are_taken_apart_wherever_the_reads_fall(pipe: tuple[int, int], chunk: int) -> None:
    out, into = pipe
    taken: list[bytes] = []
    thread = read_lines(taken.append, out)
    text = b'{"a": 1}\n\n  \n{"b": 2}\nlast without an end'
    for k in range(0, len(text), chunk):
        os.write(into, text[k : k + chunk])
    os.close(into)
    thread.join(10)
    assert taken == [b'{"a": 1}', b'{"b": 2}', b"last without an end"]


def test_a_line_that_is_too_long_comes_once_as_its_beginning_and_the_next_one_is_whole(
    pipe: tuple[int, int],
) -> None:
    out, into = pipe
    taken: list[bytes] = []
    thread = read_lines(taken.append, out)
    with open(into, "wb", closefd=False) as writer:
        writer.write(b"x" * 500_000 + b"\n" + b"whole\n")
    os.close(into)
    thread.join(10)
    assert [len(t) for t in taken] == [LINE_BYTES + 1, 5]
    assert taken[-1] == b"whole"


async def test_a_desk_in_plain_form_answers_nonsense_and_outlives_the_end_of_its_input(
    folder: Path, pipe: tuple[int, int]
) -> None:
    in_out, in_into = pipe
    out, into = os.pipe()
    async with running(folder) as (desk, _, _):
        ends = PlainDesk(desk, Output(into), in_out)
        feeding = asyncio.create_task(ends.feed())
        os.write(in_into, b'nonsense\n{"action": "note", "text": "seen"}\n')
        os.close(in_into)
        await asyncio.to_thread(ends.reading.join, 5)
        await asyncio.sleep(0.2)  # the input has ended, and the desk goes on
        assert not desk.ended.is_set()
    await feeding
    await asyncio.to_thread(ends.output.close)
    os.close(into)
    lines = [json.loads(line) for line in _all(out)]
    kinds = [line["kind"] for line in lines]
    said = next(line for line in lines if line["kind"] == "operator")
    assert (said["action"], said["text"]) == ("note", "seen")
    assert kinds.count("error") == 1
    assert "not JSON" in lines[kinds.index("error")]["text"]
    seqs = [line["seq"] for line in lines if line["kind"] != "error"]
    assert seqs == list(range(seqs[0], seqs[0] + len(seqs)))
    assert all({"seq", "at", "show_s", "kind"} <= line.keys() for line in lines)


def test_an_operators_action_has_its_keys_beside_it_as_they_were_sent_and_no_key_of_the_line_is_hidden() -> (
    None
):
    """contract.md: `operator` carries `action` and its keys."""
    keys: dict[str, float | str | bool | None] = {
        "subject": "4",
        "code": "lamp-out",
        "for_s": 600.0,
        "seq": -1.0,
    }
    line = OperatorLine(seq=7, at=AT, show_s=None, action="shelve", keys=keys, by="Ilse")
    said = json.loads(plain(line))
    assert {k: said[k] for k in ("action", "subject", "code", "for_s", "by")} == {
        "action": "shelve",
        "subject": "4",
        "code": "lamp-out",
        "for_s": 600.0,
        "by": "Ilse",
    }
    assert (said["kind"], said["seq"]) == ("operator", 7)
    other = ShowLine(seq=8, at=AT, show_s=1.5, phase="running", title="x")
    assert plain(other) == encode(other) + b"\n"


def _all(fd: int) -> list[bytes]:
    with os.fdopen(fd, "rb") as reader:
        return reader.readlines()
