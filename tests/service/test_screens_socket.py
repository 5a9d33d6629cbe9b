"""Screens on a real socket: what they get, what they may do, and what they cannot do to the desk."""

from __future__ import annotations

import asyncio
import json
import os
import stat
from pathlib import Path

import pytest
from desk_rig import make_show, running

from interlock.clock import SystemClock
from interlock.service import outbox, sockets
from interlock.service.connection import DeskConnection
from interlock.service.place import Lock, Place
from interlock.service.running import RunningDesk
from interlock.watch.inputs import Action
from interlock.watch.state import (
    ErrorLine,
    Farewell,
    Frame,
    Fresh,
    Happened,
    Hello,
    OperatorLine,
    decode_frame,
)


class Client:
    """One screen, as bare as it can be."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.reader, self.writer = reader, writer

    @classmethod
    async def on(cls, place: Place) -> Client:
        return cls(*await sockets.reach(place.socket))

    async def frame(self) -> Frame | None:
        text = await asyncio.wait_for(self.reader.readline(), 10)
        return decode_frame(text) if text else None

    async def until(self, kind: type) -> list[Frame]:
        """Frames up to the first whose line (or that itself) is of ``kind``."""
        got: list[Frame] = []
        while True:
            frame = await self.frame()
            assert frame is not None, f"the desk hung up; before: {got[-3:]}"
            got.append(frame)
            if isinstance(frame, kind) or (isinstance(frame, Happened) and isinstance(frame.line, kind)):
                return got

    def send(self, text: bytes) -> None:
        self.writer.write(text + b"\n")

    async def close(self) -> None:
        self.writer.close()
        await self.writer.wait_closed()


async def test_the_socket_is_this_users_alone(folder: Path) -> None:
    async with running(folder) as (_, place, _):
        mode = place.socket.stat().st_mode
        assert stat.S_ISSOCK(mode)
        assert stat.S_IMODE(mode) == 0o600
    assert not place.socket.exists()


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
        desk.act({"action": "note", "text": "before"})
        await asyncio.sleep(0.05)
        late = await Client.on(place)
        hello = await late.frame()
        assert isinstance(hello, Hello)
        assert hello.state.seq > 0
        desk.act({"action": "note", "text": "after"})
        note = (await late.until(OperatorLine))[-1]
        assert isinstance(note, Happened)
        assert isinstance(note.line, OperatorLine)
        assert note.line.keys["text"] == "after"
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


async def test_a_stale_socket_is_replaced(folder: Path) -> None:
    (folder / "x").write_text("")
    async with running(folder) as (_, place, _):
        pass
    place.socket.write_text("left behind by a killed desk")
    async with running(folder) as (_, place, _):
        screen = await Client.on(place)
        assert isinstance(await screen.frame(), Hello)
        await screen.close()


async def test_where_there_are_no_unix_sockets_a_secret_in_a_private_file_opens_the_door(
    folder: Path,
) -> None:
    path = folder / "door"
    served: list[bytes] = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        served.append(await reader.readline())
        writer.write(b"welcome\n")
        writer.close()

    server = await sockets.listen(path, serve, unix=False)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    reader, writer = await sockets.reach(path, unix=False)
    writer.write(b"hello\n")
    assert await reader.readline() == b"welcome\n"
    writer.close()
    port = json.loads(path.read_bytes())["port"]
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(b"guess\nhello\n")
    assert await reader.read() == b""
    writer.close()
    assert served == [b"hello\n"]
    server.close()
    await server.wait_closed()


async def test_readers_bus_record_and_port_end_in_this_order(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    async with running(folder) as (desk, place, journal):
        journal.order = order
        close_bus, close_port = desk.bus.close, desk._close_port

        def bus() -> None:
            order.append("bus")
            assert not any(t.get_name() == "north" for t in asyncio.all_tasks())
            close_bus()

        async def port() -> None:
            order.append("port")
            await close_port()

        monkeypatch.setattr(desk.bus, "close", bus)
        monkeypatch.setattr(desk, "_close_port", port)
        screen = await Client.on(place)
        await screen.frame()
    assert order == ["bus", "journal", "port"]
    last = await screen.until(Farewell)
    assert isinstance(last[-1], Farewell)
    await screen.close()
    assert os.listdir(folder) == []  # noqa: PTH208 - nothing is left behind


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


async def test_a_screen_that_comes_before_the_desk_runs_is_told_its_first_state(folder: Path) -> None:
    """Who started a desk is told that it is ready as soon as the door is open: it must not find an empty room."""
    show = make_show(SystemClock().wall_s(), str(folder / "show.toml"))
    place = Place(show.path, folder=folder)
    lock = Lock(place)
    lock.take(show.title)
    desk = RunningDesk(show, SystemClock())
    await desk.open(lock)
    try:
        screen = await Client.on(place)
        hello = await screen.frame()
        assert isinstance(hello, Hello)
        assert hello.state.phase == "waiting"
        assert [h.house for h in hello.state.houses] == ["1", "2"]
        await screen.close()
    finally:
        desk.end("enough")
        await desk.run(lambda emit: [])
        lock.release()
    assert desk.folding.folded == 2, "its clock was tied twice to the wall's"
