"""The desk in a session of its own: ``python -m interlock.service.detached CONFIG READY_FD``.

Started by :mod:`interlock.service.spawn`. It keeps no standard streams but its log, ignores the end of
the terminal it was started from, and says on the pipe that it was given either that it is ready or, in
one JSON object, why it is not.
"""

from __future__ import annotations

import asyncio
import logging
import os
import sys

import msgspec

from interlock.errors import LonglaceError
from interlock.service.compose import open_rehearsal, open_watch
from interlock.service.config import Config, Ready
from interlock.service.place import Lock, Place


def main() -> int:
    """Run the desk to its end."""
    config = msgspec.json.decode(sys.argv[1], type=Config)
    ready_fd = int(sys.argv[2])
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(name)s %(levelname)s %(message)s")
    try:
        asyncio.run(_run(config, ready_fd))
    except LonglaceError as error:
        _tell(ready_fd, Ready(str(error), error.exit_code, type(error).__name__))
        logging.getLogger("longlace").error("%s", error)
        return error.exit_code
    return 0


async def _run(config: Config, ready_fd: int) -> None:
    lock = Lock(Place(config.show, rehearsal=config.rehearsal))
    lock.given = config.given()
    lock.take()
    try:
        opened = await (open_rehearsal if config.rehearsal else open_watch)(config)
        opened.desk.end_on_signals()
        lock.says(opened.show.title)
        await opened.desk.open(lock)
        _tell(ready_fd, Ready())
        await opened.run()
    finally:
        lock.release()


def _tell(fd: int, word: Ready) -> None:
    """Say it once; a starter that has gone meanwhile need not hear it."""
    try:
        os.write(fd, msgspec.json.encode(word) + b"\n")
        os.close(fd)
    except OSError:
        logging.getLogger("longlace").info("nobody waits for this desk to be ready")


if __name__ == "__main__":
    sys.exit(main())
