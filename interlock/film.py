"""Film formats: how many frames go to a foot of film, how many to a foot of tape measure.

A *film foot* is what a footage counter counts: 16 frames on 35 mm 4-perf by definition. A *tape
foot* is 304.8 mm of true length and becomes frames through the frame pitch: 16.042 on 35 mm 4-perf.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

MM_PER_FT = 304.8


@dataclass(frozen=True, slots=True)
class FilmFormat:
    """One format. ``frames_per_ft`` per film foot (exact), ``pitch_mm`` from frame to frame along the film."""

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
