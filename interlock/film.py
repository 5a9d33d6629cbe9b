"""Film formats: how many frames go to a foot of film, how many to a foot of tape measure.

A *film foot* is what a footage counter counts: 16 frames on 35 mm 4-perf by definition. A *tape
foot* is 304.8 mm of true length and becomes frames through the frame pitch: 16.042 on 35 mm 4-perf.

Film feet are exact: a foot begins at the whole frame at or before its mark, so that 3-perf feet count
21, 21, 22 frames and 5-perf feet 12, 13, 13, 13, 13. Footage is written ``118+08``, timecode
``01:30:15:12`` (non-drop: at 24 fps it is the clock's time).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

MM_PER_FT = 304.8

_FOOTAGE = re.compile(r"(-?)([0-9]{1,7})\+([0-9]{1,2})")
_TIMECODE = re.compile(r"([0-9]{1,3}):([0-9]{2}):([0-9]{2}):([0-9]{2})")


@dataclass(frozen=True, slots=True)
class FilmFormat:
    """One format. ``frames_per_ft`` per film foot (exact), ``pitch_mm`` from frame to frame."""

    key: str
    name: str
    frames_per_ft: Fraction
    pitch_mm: float

    def frames_from_tape_ft(self, length_ft: float) -> float:
        """Frames on ``length_ft`` feet of tape measure."""
        return length_ft * MM_PER_FT / self.pitch_mm

    def frames_from_metres(self, length_m: float) -> float:
        """Frames on ``length_m`` metres of true length."""
        return length_m * 1000.0 / self.pitch_mm

    def metres_from_frames(self, frames: float) -> float:
        """True length of ``frames`` frames, in metres."""
        return frames * self.pitch_mm / 1000.0

    def frames_from_film_ft(self, length_ft: Fraction | int) -> Fraction:
        """Frames on ``length_ft`` film feet, exactly."""
        return self.frames_per_ft * length_ft

    def film_ft_from_frames(self, frames: Fraction | int) -> Fraction:
        """Film feet of ``frames`` frames, exactly."""
        return frames / self.frames_per_ft

    def frames_in_foot(self, foot: int) -> int:
        """Frames that the footage counter shows between ``foot`` and the next foot."""
        return self._foot_start(foot + 1) - self._foot_start(foot)

    def parse_footage(self, text: str) -> int:
        """Frames of ``118+08``; ``-3+08`` is that much before. Raises ``ValueError`` with a sentence."""
        found = _FOOTAGE.fullmatch(text)
        if found is None:
            raise ValueError(f"{text!r} is no footage; it is written feet+frames, as in 118+08")
        sign, feet, frames = found[1], int(found[2]), int(found[3])
        if frames >= self.frames_in_foot(feet):
            have = self.frames_in_foot(feet)
            raise ValueError(
                f'found "{text}", expected at most {have - 1} frames: foot {feet} of {self.key} has {have} frames'
            )
        count = self._foot_start(feet) + frames
        return -count if sign else count

    def format_footage(self, frames: int) -> str:
        """``frames`` frames as ``118+08``."""
        count = abs(frames)
        feet = math.ceil(Fraction(count + 1) / self.frames_per_ft) - 1
        return f"{'-' if frames < 0 else ''}{feet}+{count - self._foot_start(feet):02d}"

    def _foot_start(self, foot: int) -> int:
        return math.floor(foot * self.frames_per_ft)

    def tape_ft_from_frames(self, frames: float) -> float:
        """True length of ``frames`` frames, in feet of tape measure."""
        return frames * self.pitch_mm / MM_PER_FT


FORMATS: MappingProxyType[str, FilmFormat] = MappingProxyType(
    {
        f.key: f
        for f in (
            FilmFormat("35mm-4p", "35 mm, 4 perforations", Fraction(16), 19.00),
            FilmFormat("35mm-3p", "35 mm, 3 perforations", Fraction(64, 3), 14.25),
            FilmFormat("35mm-2p", "35 mm, 2 perforations", Fraction(32), 9.50),
            FilmFormat("16mm", "16 mm", Fraction(40), 7.62),
            FilmFormat("65mm-5p", "65/70 mm, 5 perforations", Fraction(64, 5), 23.75),
            FilmFormat("super8", "Super 8", Fraction(72), 4.234),
        )
    }
)


def parse_timecode(text: str, fps: int) -> int:
    """Frames of the non-drop timecode ``hh:mm:ss:ff`` at ``fps``. Raises ``ValueError`` with a sentence."""
    found = _TIMECODE.fullmatch(text)
    if found is None:
        raise ValueError(f"{text!r} is no timecode; it is written hh:mm:ss:ff, as in 01:30:15:12")
    hours, minutes, seconds, frames = (int(field) for field in found.groups())
    if minutes > 59 or seconds > 59:
        raise ValueError(f"{text!r}: an hour has 60 minutes, a minute 60 seconds")
    if frames >= fps:
        raise ValueError(f"{text!r}: a second has {fps} frames here")
    return ((hours * 60 + minutes) * 60 + seconds) * fps + frames


def format_timecode(frames: int, fps: int) -> str:
    """``frames`` frames (0 or more) as non-drop timecode at ``fps``. Raises ``ValueError`` below zero."""
    if frames < 0:
        raise ValueError("timecode counts from zero; there is none before it")
    seconds, rest = divmod(frames, fps)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}:{rest:02d}"


def frames_from_time(time_s: Fraction | int, fps: Fraction | int) -> Fraction:
    """Frames that pass in ``time_s`` seconds at ``fps``, exactly."""
    return Fraction(time_s) * fps


def time_from_frames(frames: Fraction | int, fps: Fraction | int) -> Fraction:
    """Seconds that ``frames`` frames last at ``fps``, exactly."""
    return Fraction(frames) / fps


def format_time(time_s: float, decimals: int = 0) -> str:
    """Seconds as ``1:49:33``, with ``decimals`` places; negative times bear a minus sign."""
    ticks = round(abs(time_s) * 10**decimals)
    whole, part = divmod(ticks, 10**decimals)
    fraction = f".{part:0{decimals}d}" if decimals else ""
    sign = "-" if time_s < 0 and ticks else ""
    return f"{sign}{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}{fraction}"
