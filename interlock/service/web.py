"""The board in a browser: one page, one stream of what is to be drawn on it. Nothing comes in.

There is no route that acts, and nothing that a browser sends is handed to the desk.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import hmac
import re
import socket
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from importlib.resources import files
from types import FrameType

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from interlock.errors import UsageError
from interlock.service.web_board import Board
from tui.source import Source

STALL_S, WAITING_BYTES = 20.0, 131_072
COOKIE = "longlace"
LOCAL = ("127.0.0.1", "localhost", "[::1]")


def page() -> tuple[str, str]:
    """The page, and the policy under which a browser may show it: its own style and script by their hashes, nothing else."""
    text = (files("interlock.service") / "page" / "board.html").read_text(encoding="utf-8")
    hashes = {}
    for name in ("style", "script"):
        found = re.findall(rf"<{name}>(.*?)</{name}>", text, re.DOTALL)
        digests = [base64.b64encode(hashlib.sha256(x.encode()).digest()).decode() for x in found]
        hashes[name] = " ".join(f"'sha256-{d}'" for d in digests)
    policy = (
        f"default-src 'none'; style-src {hashes['style']}; script-src {hashes['script']}; connect-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    return text, policy


def make_app(board: Board, *, token: str | None, viewers: int, hosts: tuple[str, ...] = LOCAL,
             lifespan: Callable[[Starlette], object] | None = None) -> Starlette:  # fmt: skip
    """Two routes to read, none to write. Without a token only ``hosts`` are answered, so that no other page can look in."""
    text, policy = page()
    headers = {
        "Content-Security-Policy": policy,
        "Cache-Control": "no-store",
        "Referrer-Policy": "no-referrer",
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
    }

    def allowed(request: Request) -> bool:
        if token is None:
            # A page from elsewhere whose name was made to lead here (DNS rebinding) sends its own name.
            return _name(request.headers.get("host", "")) in hosts
        return _same(request.cookies.get(COOKIE, ""), token)

    async def show(request: Request) -> Response:
        given = request.query_params.get("token")
        if token is not None and given is not None and _same(given, token):
            # The token goes out of the address at once, so that it is not copied, bookmarked or seen on a wall.
            answer = RedirectResponse(".", status_code=303, headers=headers)
            answer.set_cookie(COOKIE, token, httponly=True, samesite="strict", path=_folder(request))
            return answer
        if not allowed(request):
            return PlainTextResponse(
                "Open the address that `longlace web` printed, token included.\n", 403, headers
            )
        return Response(text, media_type="text/html", headers=headers)

    async def events(request: Request) -> Response:
        if not allowed(request):
            return PlainTextResponse("no access\n", 403, headers)
        if board.viewers >= viewers:
            return PlainTextResponse(f"{viewers} viewers already\n", 503, {**headers, "Retry-After": "10"})
        if request.method == "HEAD":
            return Response(media_type="text/event-stream", headers=headers)
        return StreamingResponse(
            board.events(), media_type="text/event-stream", headers={**headers, "X-Accel-Buffering": "no"}
        )

    return Starlette(
        routes=[Route("/", show, methods=["GET"]), Route("/events", events, methods=["GET"])],
        lifespan=lifespan,  # type: ignore[arg-type]
    )


def _name(host: str) -> str:
    return re.sub(r":\d+$", "", host).lower()


def _folder(request: Request) -> str:
    return request.url.path if request.url.path.endswith("/") else "/"


def _same(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode(), token.encode())


def open_port(host: str, port: int, stall_s: float = STALL_S) -> socket.socket:
    """The port; ``UsageError`` if it cannot be had. A viewer that takes nothing for ``stall_s`` is let go (Linux)."""
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        opened = socket.create_server((host, port), family=family)
        # For every connection. A tablet out of reach must not keep its place for as long as the system would try.
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, WAITING_BYTES)
        if hasattr(socket, "TCP_USER_TIMEOUT"):
            opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, round(stall_s * 1000))
        return opened
    except OSError as error:
        raise UsageError(
            f"--host {host} --port {port}: cannot be opened ({error.strerror or error}); choose another"
        ) from error


class _Server(uvicorn.Server):
    board: Board

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """The streams would never end by themselves."""
        super().handle_exit(sig, frame)
        asyncio.get_running_loop().call_soon_threadsafe(self.board.end)


async def serve(source: Source, port: socket.socket, *, token: str | None, viewers: int, hosts: tuple[str, ...] = LOCAL,
                ready: Callable[[], Awaitable[None]] | None = None) -> None:  # fmt: skip
    """Until the desk ends or the keyboard ends it."""
    board = Board(source)
    server: _Server

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        async def follow() -> None:
            await board.follow()
            server.should_exit = True

        tasks = [asyncio.create_task(follow()), asyncio.create_task(board.paint())]
        if ready is not None:
            await ready()
        yield
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    app = make_app(board, token=token, viewers=viewers, hosts=hosts, lifespan=lifespan)
    server = _Server(
        uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            proxy_headers=False,
            server_header=False,
            ws="none",
            timeout_graceful_shutdown=2,
            limit_concurrency=viewers + 16,
        )
    )
    server.board = board
    await server.serve(sockets=[port])
