"""Pulses of a machine whose contact says that it stands: film passed by hand, or a start whose own line was lost.

Until the contact speaks nobody can tell. When it says that the machine turns, the pulses that came before can be those of
its ramp, and then they date the start better than a line that is late; or somebody had just passed film by hand.
"""

from __future__ import annotations

import math

from interlock.watch.motion import Motion
from interlock.watch.signal import Counter

LATE_S = 0.1
"""A pulse of a machine that runs up is not later than this, whatever its ramp."""


def started_by_pulses(motion: Motion, c: Counter) -> float | None:
    """Desk second of the start that the held pulses tell of; None where they cannot be a start's: the next one is missing.

    ``c.hand_from_fr`` must not be None: that is where the held pulses began.
    """
    from_fr = c.hand_from_fr or 0.0
    start_s = c.hand_since_s - _after_start_s(motion, c.hand_first_fr - from_fr)
    next_s = start_s + _after_start_s(motion, c.last_fr - from_fr + c.frames_per_pulse)
    return start_s if c.fact_s <= next_s + LATE_S else None


def _after_start_s(motion: Motion, frames: float) -> float:
    """How long after its start a machine has run so many frames."""
    ramp_fr = motion.fps * motion.ramp_s / 2.0
    if frames < ramp_fr:
        return math.sqrt(2.0 * motion.ramp_s * max(0.0, frames) / motion.fps)
    return motion.ramp_s / 2.0 + frames / motion.fps
