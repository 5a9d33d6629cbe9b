"""What a leader may be pulled with, and in how few stretches that can be: cheap enough for ``check``."""

from __future__ import annotations

from interlock.plan.threading_pull import end_pull
from interlock.plan.threading_stations import walk
from interlock.plan.threading_stretches import count_stretches
from interlock.showfile.settings import ThreadingSettings
from interlock.showfile.show import Show


def pull_limit(settings: ThreadingSettings) -> tuple[float, str]:
    """Newtons that a leader may be pulled with, and whose limit that is: the hand's or the splice's."""
    if settings.hand_n <= settings.splice_n:
        return settings.hand_n, "hand"
    return settings.splice_n, "splice"


def stretch_count(show: Show) -> tuple[int, list[str]]:
    """(how many stretches the threading takes at least, links on which one is over the limit whatever one does)."""
    limit_n, _ = pull_limit(show.threading)
    _, path = walk(show)
    hopeless = {
        f"link {step.link}": None
        for gap in path.gaps
        if end_pull(gap, path.start_n) > limit_n
        for step in gap
        if step.kind != "machine"
    }
    return count_stretches(path, limit_n), list(hopeless)
