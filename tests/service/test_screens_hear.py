"""What a screen on a real socket hears: a snapshot first, then every line once, and a farewell."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest
from bare_client import Client
from desk_rig import running

from interlock.service.connection import DeskConnection
from interlock.service.place import Place
from interlock.watch.inputs import Action
from interlock.watch.state import (
    Farewell,
    Frame,
    Fresh,
    Happened,
    Hello,
    OperatorLine,
)


async def test_a_screen_gets_hello_first_then_every_line_once_and_in_order_and_fresh_states(
    folder: Path,
) -> None:
    async with running(folder) as (desk, place, _):
        screen = await Client.on(place)
        hello = await screen.frame()
        assert isinstance(hello, Hello)
        assert [h.house for h in hello.layout.houses] == ["1", "2"]
        for k in range(50):
            desk.act({"action": "note", "text": f"note {k}"})
            await asyncio.sleep(0)
        frames: list[Frame] = []
        while sum(isinstance(f, Fresh) for f in frames) < 3:
            frame = await screen.frame()
            assert frame is not None
            frames.append(frame)
        seqs = [f.line.seq for f in frames if isinstance(f, Happened)]
        assert seqs == list(range(hello.state.seq + 1, hello.state.seq + 1 + len(seqs)))
        assert len(seqs) >= 50
        # A state never comes before a line that is in it.
        newest = hello.state.seq
        for f in frames:
            if isinstance(f, Happened):
                newest = f.line.seq
            elif isinstance(f, Fresh):
                assert f.state.seq <= newest
        await screen.close()


async def test_who_comes_later_begins_with_a_snapshot_and_misses_nothing_after_it(folder: Path) -> None:
    async with running(folder) as (desk, place, _):
        first = await Client.on(place)
        await first.frame()
        desk.act({"action": "note", "text": "before"})
        before = (await first.until(OperatorLine))[-1]
        assert isinstance(before, Happened)
        late = await Client.on(place)
        hello = await late.frame()
        assert isinstance(hello, Hello)
        assert hello.state.seq >= before.line.seq
        desk.act({"action": "note", "text": "after"})
        note = (await late.until(OperatorLine))[-1]
        assert isinstance(note, Happened)
        assert isinstance(note.line, OperatorLine)
        assert note.line.keys["text"] == "after"
        await first.close()
        await late.close()


async def test_an_action_is_folded_and_recorded_and_every_screen_hears_of_it(folder: Path) -> None:
    async with running(folder) as (_, place, journal):
        one, two = await Client.on(place), await Client.on(place)
        one.send(b'{"action": "handover", "by": "Ilse", "booth": "north"}')
        for screen in (one, two):
            said = (await screen.until(OperatorLine))[-1]
            assert isinstance(said, Happened)
            assert isinstance(said.line, OperatorLine)
            assert (said.line.action, said.line.by, said.line.refused) == ("handover", "Ilse", None)
        assert [x.by for x, _ in journal.puts if isinstance(x, Action)] == ["Ilse"]
        await one.close()
        await two.close()


async def test_a_desk_that_still_answers_for_a_moment_after_its_farewell_has_ended_for_its_screens(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[bool] = []

    async def answers(self: DeskConnection) -> bool:
        looked.append(True)
        return False

    monkeypatch.setattr(DeskConnection, "_ended", answers)
    async with running(folder) as (desk, place, _):
        connection = DeskConnection(place)
        frames = connection.frames()
        assert isinstance(await anext(aiter(frames)), Hello)
        desk.end("enough")
        monkeypatch.setattr(Place, "running", lambda self: None)  # as once its process has gone
        async with asyncio.timeout(10):
            said = [frame async for frame in frames if isinstance(frame, Farewell)]
    assert looked
    assert connection.farewell is not None
    assert connection.farewell.startswith("enough")
    assert not any("died" in frame.reason for frame in said)


async def test_a_request_to_end_ends_the_watch_with_a_note_and_a_farewell(folder: Path) -> None:
    async with running(folder) as (desk, place, journal):
        screen = await Client.on(place)
        screen.send(json.dumps({"request": "end", "by": "Ilse"}).encode())
        frames = await screen.until(Farewell)
        assert isinstance(frames[-1], Farewell)
        assert "Ilse" in frames[-1].reason
        assert await screen.frame() is None
        notes = [f.line.keys for f in frames if isinstance(f, Happened) and isinstance(f.line, OperatorLine)]
        assert notes == [{"text": "the watch was ended by Ilse"}]
        assert frames[-1].reason == "the watch was ended by Ilse"
        assert desk.ended.is_set()
        await screen.close()
    assert journal.closed


async def test_a_screen_that_comes_late_is_told_what_had_happened_and_not_the_figures_of_every_second(
    folder: Path,
) -> None:
    async with running(folder) as (desk, place, _):
        first = await Client.on(place)
        await first.frame()
        desk.act({"action": "note", "text": "loop 2 threaded full"})
        await first.until(OperatorLine)
        await first.close()
        late = await Client.on(place)
        hello = await late.frame()
        assert isinstance(hello, Hello)
        notes = [x for x in hello.past if isinstance(x, OperatorLine) and x.action == "note"]
        assert [x.keys["text"] for x in notes] == ["loop 2 threaded full"]
        assert [x.seq for x in hello.past] == sorted(x.seq for x in hello.past)
        assert not any(getattr(x, "periodic", False) for x in hello.past)
        assert hello.past[-1].seq <= hello.state.seq, "nothing of it is news"
        await late.close()
