"""What the station shows to whoever stands there: whether it is alone, its houses, and what is to be done when.

Lines of plain text, each with a style, for 80 columns and as many rows as there are. Nothing of it is markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from interlock.station.lone import BEFORE_START, Lone, Row

WIDTH = 80
Line = tuple[str, str]
"""(text, style in rich's words)."""
_WORDS = {
    "run": ("turns", "stands"),
    "lamp": ("lamp lit", "lamp out"),
    "dowser": ("dowser open", "dowser shut"),
    "film": ("film in", "film out"),
}
NO_SAFETY = "It watches and advises; it moves nothing and is no safety device."


def span(seconds: float) -> str:
    """``0:32``, ``1:02:03``."""
    whole = int(abs(seconds))
    h, m, s = whole // 3600, whole // 60 % 60, whole % 60
    return f"{h}:{m:02}:{s:02}" if h else f"{m}:{s:02}"


def lone_words(alone_s: float | None, *, heard: bool) -> Line:
    """Whether a desk is there, in one line."""
    if alone_s is not None:
        since = f" FOR {span(alone_s)}" if heard else ""
        return (
            f"THIS BOOTH IS ALONE{since}: no desk asks. Go on by the sheet; all is kept.",
            "bold reverse",
        )
    return "A desk listens.", ""


def sheet_words(lone: Lone, *, alone: bool) -> list[Line]:
    """Whose sheet it is and how old."""
    sheet = lone.sheet
    if sheet is None:
        return [("No desk has given this booth its cue sheet yet.", "")]
    lines = [(f"{sheet.title}: {sheet.phase}, plan time {_signed(lone.plan_s())}", "bold")]
    if not sheet.watching:
        lines.append((f"The watch was ended at {lone.clock_text(-lone.age_s())}.", ""))
    elif alone:
        lines.append((f"As the desk knew it at {lone.clock_text(-lone.age_s())}, {_counted(lone)}", ""))
    return lines


def _counted(lone: Lone) -> str:
    sheet = lone.sheet
    assert sheet is not None
    if sheet.standing:
        return "all machines standing: no time counts on."
    if sheet.phase in BEFORE_START:
        return "before a motor turned: the plan's times."
    return "counted on by this computer's clock."


def house_words(lone: Lone, known: Mapping[str, bool], frames: Mapping[str, float]) -> list[str]:
    """A line for each house of the booth: what its contacts say. What is not known is said to be so."""
    names = {h.house: h.name for h in lone.sheet.houses} if lone.sheet is not None else {}
    for signal in (*known, *frames):
        house = signal.rpartition(".")[0]
        if ">" not in house and house not in ("feed", "take-up"):
            names.setdefault(house, "")
    lines = []
    for house, name in names.items():
        said = [
            words[0 if known[f"{house}.{what}"] else 1]
            for what, words in _WORDS.items()
            if f"{house}.{what}" in known
        ]
        if (n := frames.get(f"{house}.frames")) is not None:
            said.append(f"{n:.0f} frames counted")
        own = f" ({name})" if name and name not in (house, f"House {house}") else ""
        lines.append(f"house {house}{own}: {', '.join(said) or 'nothing is known of it here'}")
    return lines


def row_words(row: Row, lone: Lone) -> str:
    """A cue as one line."""
    when = (
        f"in {span(row.in_s)}"
        if row.state == "coming"
        else "NOW"
        if row.state == "due"
        else f"LATE {span(row.in_s)}"
    )
    by = "  (by the plan)" if row.planned else ""
    return f"{when:>12}  {lone.clock_text(row.in_s)}  house {row.house}: {row.do}{by}"


def board(
    title: str,
    lone: Lone,
    *,
    alone_s: float | None,
    rows: Sequence[Row],
    contacts: Mapping[str, bool],
    frames: Mapping[str, float],
    adapters: Iterable[str],
    said: Iterable[str],
    height: int = 24,
) -> list[Line]:
    """The whole screen, at most ``height`` lines: first what matters most."""
    alone = alone_s is not None
    top: list[Line] = [(title, "bold"), lone_words(alone_s, heard=True), *sheet_words(lone, alone=alone)]
    houses = [(f"  {text}", "") for text in house_words(lone, contacts, frames)]
    foot: list[Line] = [("", ""), *((f"  {text}", "dim") for text in (*adapters, *said)), (NO_SAFETY, "dim")]
    left = height - len(top) - len(houses) - len(foot) - 2
    cues: list[Line] = [
        (row_words(row, lone), {"due": "bold reverse", "late": "bold"}.get(row.state, ""))
        for row in rows[: max(3, left)]
    ]
    if lone.sheet is not None and not rows:
        cues = [("    nothing is left on the sheet", "")]
    elif len(rows) > len(cues):
        cues[-1] = (f"{'':>14}and {len(rows) - len(cues) + 1} more", "")
    every = [*top, ("", ""), *houses, ("", ""), *cues, *foot]
    return [
        (text if len(text) <= WIDTH else f"{text[: WIDTH - 1]}…", style) for text, style in every[:height]
    ]


def _signed(seconds: float) -> str:
    return f"{'−' if seconds < 0 else ''}{span(seconds)}"
