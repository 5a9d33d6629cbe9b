"""What a screen cannot do to the desk: by nonsense, by not reading, by dying in the middle of a line."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from bare_client import Client
from desk_rig import running

from interlock.service import outbox
from interlock.watch.inputs import Action
from interlock.watch.state import (
    ErrorLine,
    Farewell,
    Happened,
    Hello,
    OperatorLine,
)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"not json", "not JSON"),
        (b'{"action": "explode"}', "there is no action"),
        (b'{"request": "explode"}', "request"),
        (b'{"action": "note", "text": "' + b"x" * 200_000 + b'"}', "longer than 65,536 bytes"),
        (b"\xff\xfe", "not JSON"),
    ],
)
async def test_what_is_not_understood_is_answered_to_that_screen_alone_and_changes_nothing(
    folder: Path, text: bytes, words: str
) -> None:
    async with running(folder) as (_, place, journal):
        one, other = await Client.on(place), await Client.on(place)
        await other.frame()
        one.send(text)
        answer = (await one.until(ErrorLine))[-1]
        assert isinstance(answer, Happened)
        assert isinstance(answer.line, ErrorLine)
        assert words in answer.line.text
        one.send(b'{"action": "note", "text": "still here"}')
        assert not any(
            isinstance(f, Happened) and isinstance(f.line, ErrorLine) for f in await other.until(OperatorLine)
        )
        assert [x.action for x, _ in journal.puts if isinstance(x, Action)] == ["note"]
        await one.close()
        await other.close()


async def test_a_screen_that_does_not_read_delays_nothing_and_is_cut_off_when_too_far_behind(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(outbox, "MOST_EVENTS", 500)
    async with running(folder) as (desk, place, journal):
        good = await Client.on(place)
        hung = await Client.on(place)
        hung.writer.transport.pause_reading()  # type: ignore[attr-defined]
        await good.frame()
        for k in range(4000):
            desk.act({"action": "note", "text": f"{k} " + "x" * 900})
            if k % 50 == 0:
                await asyncio.sleep(0.001)  # the desk, and the screen that reads, get their turns
        seen = []
        while len(seen) < 4000:
            frame = await good.frame()
            if isinstance(frame, Happened) and isinstance(frame.line, OperatorLine):
                seen.append(frame.line.keys["text"])
        assert [str(t).split()[0] for t in seen] == [str(k) for k in range(4000)]
        assert desk.screens.cut_off == 1
        hung.writer.transport.resume_reading()  # type: ignore[attr-defined]
        frames = await hung.until(Farewell)
        assert isinstance(frames[-1], Farewell)
        assert "cut off" in frames[-1].reason
        numbers = [f.line.seq for f in frames if isinstance(f, Happened)]
        assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))
        assert await hung.frame() is None
        back = await Client.on(place)  # and it catches up when it comes back
        hello = await back.frame()
        assert isinstance(hello, Hello)
        assert hello.state.seq > numbers[-1]
        for client in (good, hung, back):
            await client.close()
        assert len([x for x, _ in journal.puts if isinstance(x, Action)]) == 4000


async def test_a_screen_that_dies_in_the_middle_of_a_line_changes_nothing(folder: Path) -> None:
    async with running(folder) as (desk, place, journal):
        for _ in range(3):
            dying = await Client.on(place)
            await dying.frame()
            dying.writer.write(b'{"action": "stop-a')
            await dying.writer.drain()
            dying.writer.transport.abort()
        screen = await Client.on(place)
        await screen.frame()
        desk.act({"action": "note", "text": "alive"})
        await screen.until(OperatorLine)
        assert len(desk.screens.here) == 1
        assert [x.action for x, _ in journal.puts if isinstance(x, Action)] == ["note"]
        await screen.close()
