"""Starting a desk that outlives whoever starts it."""

from __future__ import annotations

import os
import subprocess
import sys

import msgspec

from interlock.errors import DeskError, DeskRunning, LonglaceError
from interlock.service.config import Config, Ready
from interlock.service.place import Place


def start_desk(config: Config, place: Place) -> None:
    """Start the desk in a session of its own and return when it is ready to serve screens.

    Raises what the desk raised, by kind and in its own words (:class:`DeskRunning` among them), and
    :class:`DeskError` with the log's last words if it died without any.
    """
    hear, say = os.pipe()
    try:
        with place.log.open("ab") as log:
            os.fchmod(log.fileno(), 0o600)
            desk = subprocess.Popen(  # noqa: S603 - this program itself
                [sys.executable, "-m", "interlock.service.detached", _text(config), str(say)],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
                pass_fds=(say,),
            )
    finally:
        os.close(say)
    with os.fdopen(hear, "rb") as pipe:
        answer = pipe.read(1_000_000)  # until the desk closes its end: ready, refused or dead
    if not answer:
        code = desk.wait()
        raise DeskError(f"the desk ended before it was ready (exit code {code}): {_last_words(place)}")
    word = msgspec.json.decode(answer, type=Ready)
    if word.error is not None:
        desk.wait()
        raise _as_raised(word)
    # It is not ours to wait for: it lives on. (Silences the warning about a child that still runs.)
    desk.returncode = 0


def _as_raised(word: Ready) -> LonglaceError:
    if word.kind == DeskRunning.__name__:
        return DeskRunning(word.error)
    # Only the words and the exit code matter to whoever shows them: the mistakes of a file are in the words.
    error = LonglaceError(word.error)
    error.exit_code = word.exit_code
    return error


def _text(config: Config) -> str:
    return msgspec.json.encode(config).decode()


def _last_words(place: Place) -> str:
    try:
        lines = place.log.read_text(errors="replace").strip().splitlines()
    except OSError:
        lines = []
    return f"{lines[-1] if lines else 'it left no word'}; its log is {place.log}"
