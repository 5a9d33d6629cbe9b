"""The times sheet: when every house goes up and comes down, for front of house as much as for the booth."""

from __future__ import annotations

from interlock.plan.cautions import WATCHES
from interlock.plan.sheets.chart import evening_svg
from interlock.plan.sheets.document import Block, Heading, Para, Picture, Sheet, Table
from interlock.plan.times import WHAT, clashes, clock_text, clocks, clocks_change, local
from interlock.showfile.show import Show


def times_sheet(show: Show) -> Sheet:
    """Table and picture."""
    houses = clocks(show)
    rows = []
    for clock in houses:
        times = dict(clock.times())
        cells = [clock_text(show, times[what]) if what in times else "–" for what in WHAT]
        following = "–" if clock.next_show_s is None else clock_text(show, clock.next_show_s)
        rows.append((clock.house, *cells, following))
    blocks: list[Block] = [
        *(Para(text, strong=True) for text in clashes(show)),
        *(
            [Para("The clocks change during this show: times bear their offsets.", strong=True)]
            * clocks_change(show)
        ),
        Table(("house", *WHAT, "next show"), "<" + ">" * (len(WHAT) + 1), tuple(rows)),
        Heading("The evening"),
        Picture(
            evening_svg(show),
            "a bar for each house, from its doors to the end of the film",
            "evening.svg",
            min(0.5, 0.08 + 0.025 * len(houses)),
        ),
        Para(WATCHES),
    ]
    when = f"{local(show, 0.0):%A %Y-%m-%d}, {show.timezone}"
    return Sheet("times", "Times", show.title, when, tuple(blocks))
