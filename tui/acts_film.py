"""Mark, rezero, relace, parted, dark: what is said about the film in the picked house and behind it."""

from __future__ import annotations

import re
from collections.abc import Callable

from interlock.film import FORMATS
from interlock.watch.state import Layout
from tui.acting import Acting, number
from tui.draw.words import duration
from tui.panel import Field, Question

FAR_S = 20.0


def frame_of(text: str, layout: Layout) -> int | str:
    """A frame of the print from what was typed: a frame number, footage ``118+08``, or the beginning of a part's name."""
    typed = text.strip()
    value = number(typed)
    if value is not None:
        return round(value)
    if re.fullmatch(r"-?[0-9]+\+[0-9]+", typed):
        film = next((f for f in FORMATS.values() if f.name == layout.film), None)
        if film is None:
            return "footage of this film is not known here: give a frame number"
        try:
            return film.parse_footage(typed)
        except ValueError as error:
            return str(error)
    found = [p for p in layout.parts if typed and p.name.lower().startswith(typed.lower())]
    if len(found) == 1:
        return found[0].start_fr
    if found:
        return f"{len(found)} parts begin like that: type more of the name"
    return "expected a frame number, footage as in 118+08, or the beginning of a part's name"


def frame_is_there(frame: int, house: str, layout: Layout) -> bool:
    """Whether such a frame can be in this gate: of the print, or of the leader that was threaded before it."""
    leader = next((h.first_picture_fr for h in layout.houses if h.house == house), 0.0)
    return -leader <= frame <= (layout.length_fr if layout.length_fr else frame)


class FilmActs(Acting):
    """Actions on the picked house, and on the loop behind it."""

    def house(self) -> str | None:
        """The picked house."""
        layout = self.app.model.layout
        if layout is None or not layout.houses:
            return None
        return layout.houses[min(self.app.house, len(layout.houses) - 1)].house

    def link(self) -> str | None:
        """The link behind the picked house."""
        layout = self.app.model.layout
        if layout is None or self.app.house >= len(layout.links):
            self.app.say("behind the last house there is no loop: pick another with j or k")
            return None
        return layout.links[self.app.house].link

    def mark(self) -> None:
        """Picture seen in the gate now."""
        house, layout = self.house(), self.app.model.layout
        if house is None or layout is None:
            return

        doubted: list[int] = []

        def done(given: list[str]) -> str | None:
            frame = frame_of(given[0] or "0", layout)
            if isinstance(frame, str):
                return f"{given[0]!r}: {frame}"
            if not frame_is_there(frame, house, layout):
                return f"{given[0]!r}: the print ends at frame {layout.length_fr}; before 0 there is only its leader"
            far = self._far(house, frame, layout)
            if far and frame not in doubted:
                doubted.append(frame)
                return f"The desk has this house {far}. Sure? Then Enter again, at the moment when it is in the gate."
            self.app.send("mark", house=house, frame=float(frame))
            return None

        self.app.ask(Question(
            f"Mark house {house}",
            "Press Enter at the moment when this frame is in the gate. Frame number (0: first picture), footage as 118+08, "
            "or the beginning of a part's name.",
            done, fields=(Field(f"in the gate of house {house}", "0"),),
        ))  # fmt: skip

    def _far(self, house: str, frame: int, layout: Layout) -> str:
        """How far a mark would move a house, if that is farther than a survey is ever wrong: then it may be a slip."""
        state = self.app.model.newest()
        now = next((h.frame for h in state.houses if h.house == house), None) if state is not None else None
        off_s = 0.0 if now is None else (frame - now) / layout.fps
        return f"{duration(off_s)} {'before' if off_s > 0 else 'after'} that" if abs(off_s) > FAR_S else ""

    def rezero(self) -> None:
        """A loop was measured."""
        link = self.link()
        if link is not None:
            self._ask_frames("rezero", f"Loop {link} was measured",
                "Its drift now, in frames: + fuller than threaded, - tighter.",
                "drift_fr", "0", self._beyond, link=link)  # fmt: skip

    def relace(self) -> None:
        """Film passed by hand through a standing machine."""
        house = self.house()
        if house is not None:
            self._ask_frames("relace", f"Film passed by hand through standing house {house}",
                "Frames: + forward (the loop before it shrinks, the one behind it grows), - back.",
                "n_fr", "", house=house)  # fmt: skip

    def _beyond(self, frames: float) -> str:
        """A doubt about a drift that this loop cannot have without being tight or spilt."""
        layout = self.app.model.layout
        link = layout.links[self.app.house] if layout is not None else None
        if link is None or -link.tight_fr <= frames <= link.spill_fr:
            return ""
        limit = f"{link.tight_fr:g} frames to tight" if frames < 0 else f"{link.spill_fr:g} frames to spill"
        return f"This loop has {limit}: it would be lost. Sure? Then Enter again."

    def _ask_frames(
        self, action: str, title: str, text: str, key: str, value: str,
        doubt: Callable[[float], str] = lambda frames: "", **keys: object,
    ) -> None:  # fmt: skip
        doubted: list[float] = []

        def done(given: list[str]) -> str | None:
            frames = number(given[0])
            if frames is None:
                return f"{given[0]!r}: expected a number of frames"
            if (why := doubt(frames)) and frames not in doubted:
                doubted.append(frames)
                return why
            self.app.send(action, **keys, **{key: frames})
            return None

        self.app.ask(Question(title, text, done, fields=(Field("frames", value),)))

    def parted(self) -> None:
        """Film is apart."""
        link = self.link()
        if link is not None:
            self.confirm(f"Film {link} is apart?", "Its drift is then not known and is not judged until it is relaced.",
                "parted", link=link)  # fmt: skip

    def dark(self) -> None:
        """No picture wanted here, or wanted again."""
        house, state = self.house(), self.app.model.newest()
        if house is None or state is None:
            return
        if any(h.house == house and h.dark for h in state.houses):
            self.confirm(
                f"Picture wanted again in house {house}?",
                "Its lamp and dowser are judged again.",
                "light",
                house=house,
            )
        else:
            self.confirm(f"No picture wanted in house {house}?", "Film runs on; lamp and dowser are not asked for there.",
                "dark", house=house)  # fmt: skip
