"""The board in a browser: what is answered, to whom, and to how many; and in a real Chromium."""

from __future__ import annotations

import asyncio
import json
import socket
from pathlib import Path

import msgspec
import pytest
from browser_tab import CHROMIUM, tab
from web_rig import LAYOUT, Told, event, served

from interlock.commands.web import _is_local, _token
from interlock.errors import UsageError
from interlock.service.web import open_port, page
from interlock.watch.state import Farewell, Fresh, Happened, Hello
from tui.example.moments import MOMENTS

TOKEN = "0123456789abcdef0123456789abcdef"


async def test_the_page_is_one_file_under_a_strict_policy() -> None:
    async with served() as web:
        status, head, text = await web.get()
        assert status == 200
        assert text == page()[0]
        policy = next(x for x in head.splitlines() if x.lower().startswith("content-security-policy"))
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert "innerHTML" not in text
        assert "http:" not in text
        assert "https:" not in text


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
@pytest.mark.parametrize("path", ["/", "/events"])
async def test_there_is_nothing_to_be_done_by_a_browser(method: str, path: str) -> None:
    async with served() as web:
        assert (await web.get(path, method))[0] == 405


async def test_without_a_token_only_this_machine_s_own_names_are_answered() -> None:
    async with served() as web:
        assert (await web.get(Host="localhost:1"))[0] == 200
        assert (await web.get(Host="board.example"))[0] == 403
        assert (await web.get("/events", Host="board.example"))[0] == 403


async def test_with_a_token_nothing_is_shown_without_it_and_it_leaves_the_address_at_once() -> None:
    async with served(token=TOKEN) as web:
        assert (await web.get())[0] == 403
        assert (await web.get("/events"))[0] == 403
        assert (await web.get("/?token=wrong"))[0] == 403
        assert (await web.get("/", Cookie="longlace=wrong"))[0] == 403
        status, head, _ = await web.get(f"/?token={TOKEN}")
        assert status == 303
        cookie = next(x for x in head.splitlines() if x.lower().startswith("set-cookie"))
        assert "HttpOnly" in cookie
        assert "samesite=strict" in cookie.lower()
        assert "location: ." in head.lower()
        assert (await web.get("/", Cookie=f"longlace={TOKEN}"))[0] == 200
        status, _, reader, writer = await web.open("/events", Cookie=f"longlace={TOKEN}")
        assert status == 200
        assert await event(reader)
        writer.close()


async def test_more_viewers_than_allowed_are_told_so_and_one_who_leaves_makes_room() -> None:
    async with served(viewers=2) as web:
        streams = [await web.open("/events") for _ in range(2)]
        for _, _, reader, _ in streams:
            await event(reader)
        status, _, text = await web.get("/events")
        assert status == 503
        assert "2 viewers already" in text
        streams[0][3].close()
        async with asyncio.timeout(10):
            while (await web.get("/events", "HEAD"))[0] == 503:
                await event(streams[1][2])
        for _, _, _, writer in streams:
            writer.close()


async def test_a_new_high_alarm_is_on_the_stream_with_the_next_board() -> None:
    async with served() as web:
        _, _, reader, writer = await web.open("/events")
        assert "all well" in json.dumps((await event(reader))["banner"])
        state = MOMENTS["flood"](LAYOUT)
        alarm = msgspec.structs.replace(state.alarms[0], seq=state.seq + 1, state="unacknowledged")
        web.source.put(Happened(alarm))
        async with asyncio.timeout(5):
            while "RUN LOST" not in json.dumps((await event(reader))["banner"]):
                pass
        writer.close()


async def test_a_desk_that_says_farewell_is_not_known_any_more() -> None:
    async with served() as web:
        _, _, reader, writer = await web.open("/events")
        await event(reader)
        web.source.put(Farewell("the desk closed the connection; trying again"))
        async with asyncio.timeout(5):
            while (board := await event(reader))["known"]:
                pass
        assert "DESK NOT HEARD" in json.dumps(board["banner"])
        writer.close()


def test_a_port_that_is_taken_is_a_clear_refusal() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other, pytest.raises(UsageError, match="choose another"):
        open_port("127.0.0.1", other.getsockname()[1])


def test_anywhere_but_this_machine_alone_there_is_a_token(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("LONGLACE_WEB_TOKEN", raising=False)
    assert _token("127.0.0.1", wanted=False) is None
    assert _token("::1", wanted=False) is None
    tokens = {_token(host, wanted=False) for host in ("0.0.0.0", "::", "192.0.2.7", "booth.example")}
    assert None not in tokens
    assert len(tokens) == 4, "a new one each time"
    assert _token("127.0.0.1", wanted=True)
    assert not _is_local("127.0.0.1.example")
    monkeypatch.setenv("LONGLACE_WEB_TOKEN", "short")
    with pytest.raises(UsageError, match="at least 16"):
        _token("127.0.0.1", wanted=False)


HOSTILE = (
    "<img src=x onerror=alert(1)>", "</script><script>window.got=1</script>", "\x1b[31mred\x1b[0m", "\u202egnp.exe",
    "&lt;b&gt;", "' onmouseover='alert(1)",
)  # fmt: skip


@pytest.mark.realtime
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here")
async def test_in_chromium_hostile_names_are_letters_and_a_lost_desk_is_said(tmp_path: Path) -> None:
    state = MOMENTS["flood"](LAYOUT)
    lay = msgspec.structs.replace(
        LAYOUT, title=HOSTILE[0],
        houses=tuple(
            msgspec.structs.replace(h, name=HOSTILE[k % len(HOSTILE)], booth=HOSTILE[(k + 1) % len(HOSTILE)])
            for k, h in enumerate(LAYOUT.houses)
        ),
        parts=tuple(msgspec.structs.replace(p, name=HOSTILE[1]) for p in LAYOUT.parts),
    )  # fmt: skip
    state = msgspec.structs.replace(
        state, leads=HOSTILE[0], booth=HOSTILE[1],
        alarms=tuple(msgspec.structs.replace(a, text=HOSTILE[1]) for a in state.alarms),
        cues=tuple(msgspec.structs.replace(c, cue=HOSTILE[0]) for c in state.cues),
    )  # fmt: skip

    def look(address: str, told: asyncio.AbstractEventLoop, source: Told) -> None:
        with tab() as page:
            page.go(address)
            page.until("document.querySelectorAll('article').length === 6")
            page.until("document.body.className === ''")
            assert page.ask("document.title") == "<img src=x onerror=alert(1)> · Longlace"
            assert (
                page.ask("document.images.length + document.querySelectorAll('article script').length") == 0
            )
            assert page.ask("document.scripts.length") == 1
            assert page.ask("typeof window.got") == "undefined"
            shown = page.ask("document.body.textContent")
            assert "</script><script>window.got=1</script>" in shown
            assert "\x1b" not in shown
            assert "\u202e" not in shown
            assert "RUN LOST house 2" in page.ask("document.getElementById('banner').textContent")
            assert (
                page.ask("getComputedStyle(document.querySelector('.high')).backgroundColor")
                == "rgb(213, 94, 0)"
            )
            assert page.complaints == [], (
                "the policy lets the page's own style and script through, and met no other"
            )
            for width in (1600, 760):  # of a screen in the office, and of a tablet held upright
                page.call(
                    "Emulation.setDeviceMetricsOverride",
                    width=width,
                    height=1000,
                    deviceScaleFactor=1,
                    mobile=False,
                )
                page.until(f"document.documentElement.scrollWidth <= {width}")
                page.until(
                    "[...document.querySelectorAll('#alarms, #cues')].every(x => x.scrollWidth <= x.clientWidth)"
                )
            told.call_soon_threadsafe(beats.cancel)
            told.call_soon_threadsafe(source.put, Farewell("gone"))
            page.until("document.getElementById('banner').textContent.includes('DESK NOT HEARD')")
            told.call_soon_threadsafe(source.put, None)  # the server ends as well
            page.until("document.body.className === 'cut'")
            assert "nothing here is known" in page.ask("document.getElementById('cut').textContent")

    async def beat(source: Told) -> None:
        while True:  # a desk that says nothing for two seconds is lost
            source.put(Fresh(state))
            await asyncio.sleep(0.25)

    async with served(Hello(lay, state)) as web:
        beats = asyncio.create_task(beat(web.source))
        await asyncio.to_thread(look, web.address, asyncio.get_running_loop(), web.source)
