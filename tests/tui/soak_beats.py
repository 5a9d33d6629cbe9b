"""The desk or the screen itself, beating once a second of the show: ``python -m tests.tui.soak_beats desk|screen SPEED …``.

What follows is what either is started with: the desk's config and the pipe on which it says that it is ready, or the show.
"""

from __future__ import annotations

import sys


def main() -> int:
    what, beat_s = sys.argv[1], 1.0 / float(sys.argv[2])
    del sys.argv[1:3]
    # Each imports only what it is made of itself: its memory is what is measured.
    if what == "desk":
        from interlock.service import detached, screens  # noqa: PLC0415

        screens.FRESH_S = beat_s
        return detached.main()
    from interlock import cli  # noqa: PLC0415
    from tui import running  # noqa: PLC0415

    running.TICK_S = beat_s
    return cli.run(["attach", sys.argv[1]])


if __name__ == "__main__":
    sys.exit(main())
