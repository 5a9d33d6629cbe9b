"""A process that writes a record until it is killed: ``record_child.py flushes PATH FIRST`` or ``… free PATH``.

``flushes``: puts batches of growing size, flushes, and says on its standard output how many inputs are safe.
``free``: puts an input a millisecond, stamped with the monotonic clock, and leaves the commits to the writer.
``limited``: fills its disk (a limit on the size of files), then is given room again; prints what it saw as JSON.
"""

from __future__ import annotations

import json
import resource
import sys
import threading
import time
from pathlib import Path

from record_samples import META, Health, fill, reading

from interlock.journal import JournalWriter, Record
from interlock.watch.inputs import Tick


def flushes(path: Path) -> None:
    if path.exists():
        writer = JournalWriter.resume(path, META.show_source, on_health=Health())
        with Record.open(path) as record:
            total = record.next_input
    else:
        writer = JournalWriter.create(path, META, on_health=Health())
        total = 0
    size = 1
    while True:
        fill(writer, total, size)
        total += size
        size = size * 3 % 97 + 1
        if not writer.flush():
            sys.exit("the disk does not take it")
        print(total, flush=True)


def free(path: Path) -> None:
    writer = JournalWriter.create(path, META, on_health=Health())
    writer.flush()
    pace = threading.Event()
    while True:
        writer.put(Tick(time.monotonic()), [])
        print("put", flush=True)
        pace.wait(0.001)


def limited(path: Path) -> None:
    health = Health()
    _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (256 << 10, hard))
    writer = JournalWriter.create(path, META, on_health=health)
    total = 0
    while total < 200_000:
        for n in range(total, total + 100):
            writer.put(reading(n), [])
        total += 100
        if not writer.flush(1.0):
            break
    safe = writer.stats().rows_written
    failing = writer.stats().failing
    fill(writer, total, 50)
    with Record.open(path) as record:
        readable = len(list(record.inputs()))
    resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
    recovered = writer.flush()
    head = writer.close()
    print(
        json.dumps(
            {
                "total": total + 50,
                "safe": safe,
                "failing": failing,
                "readable": readable,
                "recovered": recovered,
                "head": head,
                "told": health.told,
            }
        )
    )


if __name__ == "__main__":
    {"flushes": flushes, "free": free, "limited": limited}[sys.argv[1]](Path(sys.argv[2]))
