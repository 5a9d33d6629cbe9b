"""The start card: what is looked at before the motors start, and what happens in the first minutes."""

from __future__ import annotations

from interlock.plan.cautions import running_cautions
from interlock.plan.odds_stop import REACTION_S, dead_stops, lacking_wire
from interlock.plan.sheets.cue_sheets import IF_IT_GOES_WRONG
from interlock.plan.sheets.document import Block, Cautions, Checks, Facts, Heading, Para, Sheet, Table
from interlock.plan.threading_pull import all_links
from interlock.plan.times import clock_text, clocks, local
from interlock.showfile.show import Show


def start_card(show: Show) -> Sheet:
    """The whole card."""
    times = clocks(show)
    wired = [link.id for link in show.links if link.wired]
    lacking = lacking_wire(dead_stops(show))
    rows = tuple(
        (
            "☐",
            clock.house,
            house.booth,
            clock_text(show, clock.motor_s),
            "dark" if clock.lamp_s is None else clock_text(show, clock.lamp_s),
            "dark" if clock.dowser_s is None else clock_text(show, clock.dowser_s),
            clock_text(show, clock.first_picture_s),
        )
        for clock, house in zip(times, show.houses, strict=True)
    )
    loops = tuple(
        (
            "☐",
            link.id,
            f"{show.film.tape_ft_from_frames(link.path_fr):.0f} ft",
            f"{link.tight_fr / show.fps:.1f} s",
            f"{link.spill_fr / show.fps:.1f} s",
            "yes" if link.wired else "NONE",
        )
        for link in show.links
    )
    alone = (
        [
            Para(
                f"A person needs {REACTION_S:g} s only to react. Without a wired stop, a dead stop is lost on: "
                + ", ".join(lacking)
                + ".",
                strong=True,
            )
        ]
        if lacking
        else []
    )
    blocks: list[Block] = [
        Facts(
            (
                ("motors start", clock_text(show, 0.0, offset=True)),
                ("speed", f"{show.fps:g} fps"),
                (
                    "first picture stands",
                    f"{show.film.format_footage(round(show.first_picture_fr))} before gate 1",
                ),
                ("houses", f"{len(show.houses)}"),
                ("links", f"{len(all_links(show))}"),
            )
        ),
        Heading("Before the motors start"),
        Checks(_checks(show, wired)),
        Heading("The start, in film order"),
        Table(("☐", "house", "booth", "motor", "lamp", "dowser", "first picture"), "<<<>>>>", rows),
        Heading("Loops"),
        Table(
            ("☐", "link", "path", "tight after", "spill after", "wired stop"),
            "<<>>><",
            loops,
            2 if len(loops) > 8 else 1,
        ),
        *alone,
        Para(IF_IT_GOES_WRONG, strong=True),
        Cautions(tuple(running_cautions())),
    ]
    when = f"{local(show, 0.0):%Y-%m-%d}, {show.timezone}"
    return Sheet("start", "Start card", show.title, when, tuple(blocks))


def _checks(show: Show, wired: list[str]) -> tuple[str, ...]:
    footage = show.film.format_footage(round(show.first_picture_fr))
    early = [
        f"{c.house} ({clock_text(show, c.lamp_s)})"
        for c in clocks(show)
        if c.lamp_s is not None and c.lamp_s < 0.0
    ]
    return (
        "every join looked at, every roller turns",
        "film on every sprocket, all gates shut",
        "every loop at threaded rest, arms free",
        "dowsers shut, lamps cold" + (f", but for {', '.join(early)}" if early else ""),
        f"first picture {footage} before the first gate",
        "start timers set, clocks agree to the second",
        *([f"wired stops tried: {', '.join(wired)}"] if wired else []),
        "every adapter up, no house unknown on the board",
        "exit routes free, ladders away",
        "a person at every booth, all hear the lead",
    )
