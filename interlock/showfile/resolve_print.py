"""The print: its parts one after the other, and the cues that people have along it."""

from __future__ import annotations

import math
from fractions import Fraction

from interlock.film import FORMATS, FilmFormat
from interlock.showfile.models import CueSection, PartSection, ShowSection
from interlock.showfile.quantities import MOST_FRAMES, FilmLength, found
from interlock.showfile.section import Section, Source, nearest
from interlock.showfile.show import DOWSER_SHUT, Cue, Part

_LENGTHS = ("length", "runtime", "frames")


class Gauge:
    """The film and its speed: what makes frames of lengths. ``None`` for what could not be read."""

    def __init__(self, source: Source, show: ShowSection | None) -> None:
        self._source = source
        self.film: FilmFormat | None = FORMATS[show.film] if show is not None and show.has("film") else None
        self.fps: Fraction | None = show.fps if show is not None and show.has("fps") else None

    def frames(self, section: Section, name: str, key: str | None = None) -> Fraction | None:
        """Frames of the film length in the field ``name``; None, with its mistake noted, if it has none."""
        if not section.has(name) or self.film is None or self.fps is None:
            return None
        length = getattr(section, name)
        if not isinstance(length, FilmLength):
            return None
        try:
            return length.frames(self.film, self.fps)
        except ValueError as e:
            self._source.mistake((*section.place, key or name), str(e))
            return None


def resolve_parts(source: Source, sections: list[PartSection], gauge: Gauge) -> list[Part] | None:
    """The parts from head to tail; None if one of them has no length that is known."""
    if sections and not any(not s.has("kind") or s.kind not in DOWSER_SHUT for s in sections):
        kinds = ", ".join(sorted(DOWSER_SHUT))
        text = f"found nothing but {kinds}; expected at least one part that is picture"
        source.mistake((*sections[0].place, "kind"), text)
    parts: list[Part] = []
    whole = bool(sections)
    start_fr = 0
    for section in sections:
        frames = _part_frames(source, section, gauge)
        if frames is None or not section.has("name", "kind"):
            whole = False
            continue
        parts.append(Part(section.name, section.kind, frames, start_fr))
        start_fr += frames
    if start_fr > MOST_FRAMES:
        source.mistake((*sections[-1].place, "name"), f"ends at frame {start_fr}, more than any print has")
        return None
    return parts if whole else None


def _part_frames(source: Source, section: PartSection, gauge: Gauge) -> int | None:
    given = [name for name in _LENGTHS if section.written(name)]
    if len(given) > 1:
        last = max(given, key=lambda name: source.line((*section.place, name)))
        others = " and ".join(name for name in given if name != last)
        source.mistake((*section.place, last), f"found a second length beside {others}, expected one")
        return None
    if not given:
        source.mistake(section.place, f"has no length; expected one of {', '.join(_LENGTHS)}")
        return None
    exact: Fraction | int | None = None
    if section.given("runtime") and section.runtime is not None and gauge.fps is not None:
        exact = section.runtime * gauge.fps
    elif section.given("frames"):
        exact = section.frames
    elif section.given("length"):
        exact = gauge.frames(section, "length")
    if exact is None:
        return None
    frames = math.floor(exact + Fraction(1, 2))
    if frames < 1:
        source.mistake((*section.place, given[0]), "comes to 0 frames, expected at least one")
        return None
    return frames


def resolve_cues(
    source: Source, sections: list[CueSection], parts: list[Part] | None, names: list[PartSection]
) -> list[Cue]:
    """The cues in the order of their frames; one that cannot be placed is a mistake or follows from one."""
    cues: list[Cue] = []
    known = [part.name for part in names if part.has("name")]
    for section in sections:
        if not section.has("at"):
            continue
        place = (*section.place, "at")
        if isinstance(section.at, str):
            if section.at not in known:
                source.mistake(
                    place, f"found {found(section.at)}, but no part is so named{nearest(section.at, known)}"
                )
            elif known.count(section.at) > 1:
                source.mistake(
                    place, f"found {found(section.at)}, but several parts are so named; expected a frame"
                )
            elif parts is not None and section.has("do"):
                frame = next(part.start_fr for part in parts if part.name == section.at)
                cues.append(Cue(frame, section.do))
        elif section.at < 0 or (parts is not None and section.at >= parts[-1].end_fr):
            end = f" to {parts[-1].end_fr - 1}" if parts is not None else ""
            source.mistake(place, f"found {found(section.at)}, expected a frame of the print, from 0{end}")
        elif section.has("do"):
            cues.append(Cue(section.at, section.do))
    return sorted(cues, key=lambda cue: cue.frame)
