"""Several viewers of the board in a browser: slow ones, ones that are gone, and real pages up to the cap."""

from __future__ import annotations

import asyncio
import json
import socket
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from browser_tab import CHROMIUM, tab
from desk_rig import running
from web_rig import LAYOUT, Served, Told, served

from interlock.service.connection import DeskConnection
from interlock.service.web import open_port, serve
from interlock.service.web_board import Board
from interlock.watch.state import Fresh, Happened, Hello
from tui.example.moments import MOMENTS
from tui.example.show import layout


async def _drawn(board: Board) -> None:
    while board.document() is None:  # noqa: ASYNC110 - one turn of the loop, not a poll
        await asyncio.sleep(0)


async def test_a_slow_viewer_gets_the_newest_board_and_holds_up_nobody() -> None:
    source = Told(Hello(LAYOUT, MOMENTS["well"](LAYOUT)))
    board = Board(source)
    tasks = [asyncio.create_task(board.follow()), asyncio.create_task(board.paint())]
    async with asyncio.timeout(10):
        await _drawn(board)
        slow, quick = board.events(), board.events()
        await anext(slow)
        await anext(quick)
        alarm = MOMENTS["flood"](LAYOUT).alarms[0]
        for k, house in enumerate("123456"):
            source.put(Happened(msgspec.structs.replace(alarm, seq=50_000 + k, subject=house)))
            while f"RUN LOST house {house}" not in (await anext(quick)).decode():
                pass
        newest = json.loads((await anext(slow)).removeprefix(b"data: "))
        assert "■6" in json.dumps(newest["banner"], ensure_ascii=False), "not the first of six"
    await slow.aclose()
    await quick.aclose()
    assert board.viewers == 0
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


@pytest.mark.realtime
@pytest.mark.skipif(not hasattr(socket, "TCP_USER_TIMEOUT"), reason="not on this system")
async def test_a_viewer_that_takes_nothing_any_more_loses_its_place_to_another() -> None:
    large = layout(64)
    async with served(Hello(large, MOMENTS["power-dip"](large)), viewers=1, stall_s=1.0) as web:
        stuck = socket.socket()
        stuck.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        stuck.setblocking(False)
        await asyncio.get_running_loop().sock_connect(stuck, ("127.0.0.1", web.port))
        stuck.send(f"GET /events HTTP/1.1\r\nHost: 127.0.0.1:{web.port}\r\n\r\n".encode())
        states = [MOMENTS[m](large) for m in ("power-dip", "well")]
        async with asyncio.timeout(20):
            while (await web.get("/events", "HEAD"))[0] != 503:
                pass
            for k in range(1000):
                web.source.put(Fresh(msgspec.structs.replace(states[k % 2], seq=60_000 + k)))
                if (await web.get("/events", "HEAD"))[0] == 200:
                    break
                await asyncio.sleep(0.1)
        stuck.close()


@pytest.mark.realtime
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here")
async def test_in_chromium_every_viewer_of_a_real_desk_sees_the_same_and_one_too_many_is_told_so(
    folder: Path,
) -> None:
    """A desk with its socket, its board served from it as `longlace web` does, and pages up to the cap and one more."""

    def look(web: Served, act: Callable[[], None]) -> None:
        with tab(pages=4) as page:
            pages = [page, *page.others]
            for one in pages[:3]:
                one.go(web.address)
                one.until(
                    "document.querySelectorAll('article').length === 2 && document.body.className === ''"
                )
            pages[3].go(web.address)
            pages[3].until("document.getElementById('cut').textContent.startsWith('Too many viewers')")
            act()
            for one in pages[:3]:
                one.until("document.getElementById('banner').textContent.includes('armed')")
            pages[0].go(
                "about:blank"
            )  # a place is free, and the page that was turned away comes back by itself
            pages[3].until("document.body.className === ''")
            pages[3].until("document.getElementById('banner').textContent.includes('armed')")

    up = asyncio.Event()

    async def ready() -> None:
        up.set()

    with open_port("127.0.0.1", 0) as port:
        async with running(folder) as (desk, place, _):
            run = asyncio.create_task(serve(DeskConnection(place), port, token=None, viewers=3, ready=ready))
            await asyncio.wait_for(up.wait(), 10)
            loop = asyncio.get_running_loop()
            web = Served(Told(), port.getsockname()[1])
            await asyncio.to_thread(look, web, lambda: loop.call_soon_threadsafe(desk.act, {"action": "arm"}))
        await asyncio.wait_for(run, 20)  # with the desk the board ends as well
