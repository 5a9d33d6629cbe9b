"""``longlace review``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def command(
    journal: Annotated[Path, typer.Argument(metavar="JOURNAL", help="the record's file")],
) -> int:
    """Walk through a recorded show on the screens of the live one: play, step from alarm to alarm, go to any moment."""
    from interlock.journal import Record  # noqa: PLC0415 - `--help` needs none of it
    from interlock.service.on_screen import need_terminal  # noqa: PLC0415
    from interlock.service.review import RecordedShow  # noqa: PLC0415

    with Record.open(journal) as record:
        need_terminal("`longlace report`")
        show = RecordedShow(record)
    from tui.gone import run_on_terminal  # noqa: PLC0415
    from tui.review import ReviewApp  # noqa: PLC0415

    run_on_terminal(ReviewApp(show))
    return 0
