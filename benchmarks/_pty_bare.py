"""The peer of the wire: bare pyserial that prints every line as it comes. ``python -m benchmarks._pty_bare PORT…``."""

from __future__ import annotations

import sys
import threading

import serial


def read(port: serial.Serial, lock: threading.Lock) -> None:
    rest = b""
    while True:
        *lines, rest = (rest + port.read(port.in_waiting or 1)).split(b"\n")
        if lines:
            with lock:
                for line in lines:
                    sys.stdout.buffer.write(line + b"\n")
                sys.stdout.buffer.flush()


def main() -> None:
    """A thread a port, until it is killed."""
    lock = threading.Lock()
    ports = [serial.Serial(name, 115200, exclusive=True) for name in sys.argv[1:]]
    for port in ports:
        threading.Thread(target=read, args=(port, lock), daemon=True).start()
    for port in ports:
        port.write(b"ID 0 0*EAB2\n")
    threading.Event().wait()


if __name__ == "__main__":
    main()
