"""From the command to the first paint of the board, the desk running, beside a Textual program that shows one word.

Both on a pty of their own. The board is painted when the show's title, which only the desk knows, is among the bytes.
"""

from __future__ import annotations

import select
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from benchmarks._pty_desk import OnTerminal, RehearsedDesk, now, show_text
from benchmarks._row import Row, beside, interleaved, run

ROUNDS = 7
LONGEST_S = 30.0
HOUSES = 16
EMPTY = """
from textual.app import App
from textual.widgets import Static

class Empty(App[None]):
    def compose(self):
        yield Static("painted")

Empty().run()
"""


def painted_s(command: Sequence[str], env: dict[str, str], word: bytes) -> float:
    """Seconds from the start until the word is on the terminal."""
    began_s = now()
    seen = b""
    with OnTerminal(command, env) as screen:
        while word not in seen:
            left_s = began_s + LONGEST_S - now()
            if left_s <= 0 or not select.select([screen.fd], [], [], left_s)[0]:
                raise TimeoutError(f"{word!r} was not painted in {LONGEST_S:g} s: {seen[-500:]!r}")
            seen += screen.take()
        return now() - began_s


def measure() -> Iterator[Row]:
    with (
        tempfile.TemporaryDirectory() as name,
        RehearsedDesk(Path(name), show_text(HOUSES), speed=1.0) as desk,
    ):
        env = {k: v for k, v in desk.env.items() if k != "PYTHONDONTWRITEBYTECODE"}
        board = ["-m", "interlock.cli", "attach", str(desk.show)]
        painted_s(board, env, b"Many gates")  # its modules are compiled, as after an installation
        found = interleaved(
            {
                "board": lambda: painted_s(board, env, b"Many gates"),
                "empty": lambda: painted_s(["-c", EMPTY], env, b"painted"),
            },
            ROUNDS,
        )
    yield beside(
        f"start, first paint of the board, desk running, {HOUSES} houses", "s", found["board"],
        "an empty Textual program", found["empty"], at_least=1 / 1.5, target="at most 1.5 times its time",
        held_back="on top of the framework the board's own modules are imported and the desk's first state is fetched and drawn.",
    )  # fmt: skip


if __name__ == "__main__":
    run(measure)
