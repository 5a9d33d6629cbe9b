"""One tab of a real Chromium, asked over its debugging port what it shows."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--remote-debugging-port=0", "--window-size=1600,1000",
)  # fmt: skip


class Tab:
    """``complaints``: what the page's console said, refusals by its policy among them."""

    def __init__(self, wire: ClientConnection) -> None:
        self._wire = wire
        self._n = 0
        self.complaints: list[str] = []
        self.others: list[Tab] = []
        for domain in ("Runtime", "Log", "Page"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **params: object) -> dict[str, Any]:
        self._n += 1
        self._wire.send(json.dumps({"id": self._n, "method": method, "params": params}))
        while True:
            got = json.loads(self._wire.recv(timeout=20))
            if got.get("id") == self._n:
                assert "error" not in got, got
                return dict(got["result"])
            if got.get("method") in (
                "Log.entryAdded",
                "Runtime.exceptionThrown",
                "Page.javascriptDialogOpening",
            ):
                self.complaints.append(json.dumps(got["params"]))

    def go(self, url: str) -> None:
        self.call("Page.navigate", url=url)

    def ask(self, script: str) -> Any:
        return self.call("Runtime.evaluate", expression=script, returnByValue=True)["result"].get("value")

    def until(self, script: str, seconds: float = 15.0) -> None:
        """Wait for ``script`` to be true."""
        end = time.monotonic() + seconds
        while not self.ask(script):
            assert time.monotonic() < end, (script, self.ask("document.body.innerText"), self.complaints)
            time.sleep(0.05)

    def picture(self, path: Path) -> None:
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot", format="png")["data"]))


@contextmanager
def tab(pages: int = 1) -> Iterator[Tab]:
    """A browser of its own, gone afterwards, with so many pages: the first, and in ``others`` the rest."""
    assert CHROMIUM is not None
    with tempfile.TemporaryDirectory(prefix="llweb", ignore_cleanup_errors=True) as home:
        browser = subprocess.Popen(
            [CHROMIUM, *FLAGS, f"--user-data-dir={home}", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            port = _port(Path(home) / "DevToolsActivePort")
            opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
            with opener.open(f"http://127.0.0.1:{port}/json/list", timeout=10) as answer:
                found = [p for p in json.load(answer) if p["type"] == "page"]
            for _ in range(pages - 1):
                new = urllib.request.Request(f"http://127.0.0.1:{port}/json/new?about:blank", method="PUT")
                with opener.open(new, timeout=10) as answer:
                    found.append(json.load(answer))
            with ExitStack() as wires:
                tabs = [
                    Tab(wires.enter_context(connect(p["webSocketDebuggerUrl"], proxy=None, max_size=None)))
                    for p in found[:pages]
                ]
                tabs[0].others = tabs[1:]
                yield tabs[0]
        finally:
            browser.terminate()
            browser.wait(10)


def _port(path: Path) -> int:
    end = time.monotonic() + 20
    while time.monotonic() < end:
        text = path.read_text() if path.exists() else ""
        if "\n" in text:
            return int(text.split("\n")[0])
        time.sleep(0.05)
    raise AssertionError("the browser did not open its debugging port")
