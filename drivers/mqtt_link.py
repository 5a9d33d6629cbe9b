"""A connection to the broker, and what is wrong with it in a sentence."""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
from collections.abc import Coroutine
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drivers.mqtt_options import BrokerOptions
from interlock.text import clean

if TYPE_CHECKING:
    import aiomqtt

FIRST_PAUSE_S = 0.2
LONGEST_PAUSE_S = 1.6
"""A booth that is cut off is to be back at once when the network is: a question every 1.6 s costs nothing."""
CONNECT_S = 2.0
PART_S = 0.4
"""How long a goodbye may take (a driver that is cancelled is gone within a second)."""
SEND_S = 2.0
"""A word that has not left by then: the connection is of no use, and is made anew."""
KEEPALIVE_S = 5
MOST_QUEUED = 20_000


class Unusable(Exception):
    """The connection's own files cannot be read; the sentence says which."""


def client(options: BrokerOptions, name: str, will: aiomqtt.Will | None = None) -> aiomqtt.Client:
    """A client that is not connected yet. Raises :class:`Unusable`."""
    import aiomqtt  # noqa: PLC0415 - an extra, and slow to import

    quiet = logging.getLogger("longlace.mqtt")
    quiet.setLevel(logging.CRITICAL)  # what matters is said as the adapter's own words
    return aiomqtt.Client(
        options.broker,
        options.tcp_port,
        username=options.user,
        password=_password(options),
        identifier=name,
        protocol=aiomqtt.ProtocolVersion.V5,
        will=will,
        keepalive=KEEPALIVE_S,
        timeout=CONNECT_S,
        tls_context=_tls(options),
        max_queued_incoming_messages=MOST_QUEUED,
        clean_start=True,
        socket_options=[(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)],  # a small reading waits for no other
        logger=quiet,
    )


def why_not(options: BrokerOptions, error: BaseException) -> str:
    """What a person should know about a connection that failed."""
    place = f"broker {options.broker}:{options.tcp_port}"
    return clean(f"{place}: {str(error) or type(error).__name__}; trying again", 300)


async def end(task: asyncio.Task[None]) -> None:
    """Cancel until it is over, also if whoever waits here is cancelled meanwhile: that is raised afterwards.

    Before Python 3.12 ``asyncio.wait_for``, which aiomqtt uses, could swallow a cancellation: once is not enough.
    """
    cancelled = False
    while not task.done():
        task.cancel()
        try:
            await asyncio.wait({task}, timeout=0.3)
        except asyncio.CancelledError:
            cancelled = True  # the task would be left behind, running and nobody's
    if cancelled:
        raise asyncio.CancelledError


async def together(*parts: Coroutine[Any, Any, None]) -> None:
    """Run all until one ends or fails, then end the others. Raises what it failed with.

    One that sends and has failed must not leave one that reads to wait for ever on a connection that says nothing.
    """
    tasks = [asyncio.create_task(part) for part in parts]
    try:
        await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            await end(task)
    for task in tasks:
        if not task.cancelled() and (fault := task.exception()) is not None:
            raise fault


def go_on() -> None:
    """Raises ``CancelledError`` if the present task has been cancelled and that was swallowed, as above."""
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError


def _password(options: BrokerOptions) -> str | None:
    if options.password_file is None:
        return None
    try:
        text = Path(options.password_file).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise Unusable(f"password_file {options.password_file} cannot be read: {error}") from error
    return text.splitlines()[0].strip() if text.strip() else ""


def _tls(options: BrokerOptions) -> ssl.SSLContext | None:
    if not options.tls:
        return None
    try:
        return ssl.create_default_context(cafile=options.ca)
    except (OSError, ssl.SSLError) as error:
        raise Unusable(f"ca {options.ca} cannot be read: {error}") from error
