"""`longlace web` as a process on a desk of its own, with as many viewers as it takes unless told otherwise: eight."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from browser_tab import CHROMIUM, Tab, tab

from interlock.clock import SystemClock

TWO = Path(__file__).parents[2] / "configs" / "two-house.toml"


@contextmanager
def longlace(folder: Path, *args: str) -> Iterator[subprocess.Popen[bytes]]:
    """A command, killed afterwards if it still runs; its places are in ``folder``."""
    places = {f"XDG_{name}": str(folder / name) for name in ("DATA_HOME", "STATE_HOME")}
    process = subprocess.Popen(
        [sys.executable, "-m", "interlock.cli", *args],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, **places, "XDG_RUNTIME_DIR": str(folder)},
    )
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def status(address: str) -> int:
    """What one more viewer is answered."""
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(urllib.request.Request(f"{address}events", method="HEAD"), timeout=10) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code


def until(true: Callable[[], bool], seconds: float = 20.0) -> None:
    clock = SystemClock()
    end_s = clock.now_s() + seconds
    while not true():
        assert clock.now_s() < end_s


@pytest.mark.long
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here")
def test_eight_pages_in_two_browsers_follow_one_desk_a_ninth_is_turned_away_and_the_desks_end_ends_all(
    folder: Path,
) -> None:
    """The cap is 8 unless told otherwise. Chromium opens six connections to one host: four pages a browser, two browsers."""
    text = TWO.read_text().replace('driver = "simulator"', f'driver = "serial"\nport = "{folder}/not-there"')
    show = folder / "show.toml"
    show.write_text(text)
    with longlace(folder, "watch", str(show), "--plain") as desk:
        assert desk.stdin is not None
        assert desk.stdout is not None
        assert desk.stdout.readline(), "it runs; nobody reads the rest"
        with longlace(folder, "web", str(show), "--port", "0") as web:
            assert web.stdout is not None
            address = web.stdout.readline().decode().strip()
            assert b"at most 8 viewers" in web.stdout.readline()
            with tab(pages=4) as one, tab(pages=4) as two:
                pages: list[Tab] = [one, *one.others, two, *two.others]
                for page in pages:
                    page.go(address)
                    page.until(
                        "document.querySelectorAll('article').length === 2 && !document.body.className"
                    )
                assert status(address) == 503, "the ninth"
                assert all(page.ask("document.body.className") == "" for page in pages), "for nobody else"
                desk.stdin.write(b'{"action": "arm"}\n')
                desk.stdin.flush()
                for page in pages:
                    page.until("document.getElementById('banner').textContent.includes('armed')")
                pages[-1].go("about:blank")
                until(lambda: status(address) == 200)
                assert [page.complaints for page in pages] == [[]] * 8
                desk.send_signal(signal.SIGINT)
                for page in pages[:-1]:
                    page.until("document.body.className !== ''")
                assert web.wait(20) == 0
        assert desk.wait(20) == 130
