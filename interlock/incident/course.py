"""The course of a show: where the print was in every house, and every link's drift, second by second.

Arrays of one row a house (or link) and one column a second; NaN is unknown. Between two seconds a
position is carried on from the one before by its speed, which is exact for a machine at speed.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import isnan

import msgspec
import numpy as np
import numpy.typing as npt

from interlock.showfile.show import Show
from interlock.watch.seconds import Second

Floats = npt.NDArray[np.float64]


class Place(msgspec.Struct, frozen=True):
    """Where the print was in a house: the print frame in its gate, 1-sigma, frames a second; None is unknown."""

    house: str
    frame: float | None
    sigma_fr: float | None
    speed_fps: float | None


class Course(msgspec.Struct, frozen=True):
    """``at_s``: UTC seconds. ``show_s``: after show zero, NaN before. Frames of print, drift in frames."""

    at_s: Floats
    show_s: Floats
    frame: Floats
    sigma: Floats
    speed: Floats
    drift: Floats
    drift_sigma: Floats
    rate: Floats

    def __len__(self) -> int:
        return len(self.at_s)

    def places(self, show: Show, at_s: float) -> list[Place]:
        """Where the print was in every house at ``at_s``, from the last second before it."""
        i = int(np.searchsorted(self.at_s, at_s, side="right")) - 1
        if i < 0:
            return [Place(h.id, None, None, None) for h in show.houses]
        dt = min(at_s - float(self.at_s[i]), 1.0)
        found: list[Place] = []
        for k, house in enumerate(show.houses):
            frame, sigma = _known(self.frame[k, i]), _known(self.sigma[k, i])
            speed = _known(self.speed[k, i])
            if speed is None and frame is not None:
                speed = self._slope(k, i)
            if frame is not None and speed is not None:
                frame += speed * dt
            found.append(Place(house.id, frame, sigma, speed))
        return found

    def _slope(self, k: int, i: int) -> float | None:
        """Frames a second over the second before: where no counter says the speed."""
        if i == 0:
            return None
        step = float(self.frame[k, i] - self.frame[k, i - 1])
        span_s = float(self.at_s[i] - self.at_s[i - 1])
        return step / span_s if not isnan(step) and span_s > 0.0 else None

    def window(self, from_s: float, to_s: float) -> slice:
        """The seconds from ``from_s`` to ``to_s`` (UTC)."""
        return slice(int(np.searchsorted(self.at_s, from_s)), int(np.searchsorted(self.at_s, to_s, "right")))


def _known(value: float) -> float | None:
    return float(value) if not isnan(value) else None


def course_of(show: Show, seconds: Sequence[Second]) -> Course:
    """The arrays of ``seconds``. A second that has not all houses and links (a damaged record) is left out."""
    houses, links = len(show.houses), len(show.links)
    whole = [s for s in seconds if len(s.houses) == houses and len(s.links) == links]
    n = len(whole)
    at_s = np.array([datetime.fromisoformat(s.at).timestamp() for s in whole], dtype=np.float64)
    show_s = np.array([np.nan if s.show_s is None else s.show_s for s in whole], dtype=np.float64)
    # dtype=float64 makes NaN of None
    h = np.array([s.houses for s in whole], dtype=np.float64).reshape(n, houses, 3)
    k = np.array([s.links for s in whole], dtype=np.float64).reshape(n, links, 3)
    return Course(
        at_s=at_s,
        show_s=show_s,
        frame=h[:, :, 0].T,
        sigma=h[:, :, 1].T,
        speed=h[:, :, 2].T,
        drift=k[:, :, 0].T,
        drift_sigma=k[:, :, 1].T,
        rate=k[:, :, 2].T,
    )
