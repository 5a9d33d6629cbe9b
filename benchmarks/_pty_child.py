"""Becomes the program that it is given, tied to whoever started it: ``python benchmarks/_pty_child.py tty|pipe COMMAND…``.

If the benchmark is killed and can clean up nothing, the system ends the program (Linux). ``tty``: its standard input is
its own terminal, so that it hears of its end.
"""

import contextlib
import ctypes
import fcntl
import os
import signal
import sys
import termios

PR_SET_PDEATHSIG = 1

if __name__ == "__main__":
    with contextlib.suppress(AttributeError):
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)
    if sys.argv[1] == "tty":
        fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    os.execv(sys.argv[2], sys.argv[2:])
