"""The desk or the screen itself, beating once a second of the show: ``python -m tests.tui.soak_beats desk|screen SPEED …``.

What follows is what either is started with: the desk's config and the pipe on which it says that it is ready; or the show,
and a file in which the screen keeps how many bytes of the desk's it has not worked off yet.
"""

from __future__ import annotations

import asyncio
import os
import sys
import threading
from pathlib import Path

LOOK_S = 0.2


def desk(beat_s: float) -> int:
    from interlock.service import detached, screens  # noqa: PLC0415 - each imports only what it is made of itself

    screens.FRESH_S = beat_s
    return detached.main()


def screen(beat_s: float, show: str, told: str) -> int:
    from interlock import cli  # noqa: PLC0415 - as above
    from interlock.service import sockets  # noqa: PLC0415
    from tui import running  # noqa: PLC0415

    running.TICK_S = beat_s
    reach, readers = sockets.reach, []

    async def kept(path: Path) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        reader, writer = await reach(path)
        readers[:] = [reader]
        return reader, writer

    sockets.reach = kept  # type: ignore[assignment]
    fd = os.open(told, os.O_WRONLY | os.O_CREAT, 0o600)

    def tell() -> None:
        while True:
            os.pwrite(fd, b"%12d" % (len(readers[0]._buffer) if readers else 0), 0)
            threading.Event().wait(LOOK_S)

    threading.Thread(target=tell, name="how far behind", daemon=True).start()
    return cli.run(["attach", show])


def main() -> int:
    what, beat_s, *rest = sys.argv[1], 1.0 / float(sys.argv[2]), *sys.argv[3:]
    del sys.argv[1:3]
    return desk(beat_s) if what == "desk" else screen(beat_s, *rest)


if __name__ == "__main__":
    sys.exit(main())
