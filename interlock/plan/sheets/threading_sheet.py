"""The threading sheet: what two people walk along, in the order in which they walk it."""

from __future__ import annotations

import math

from interlock.film import format_time
from interlock.plan.cautions import hazards_of, threading_cautions
from interlock.plan.rolls import roll_notes, rolls
from interlock.plan.sheets.document import (
    Block,
    Cautions,
    Chip,
    Facts,
    Heading,
    Para,
    Picture,
    Sheet,
    Walk,
)
from interlock.plan.sheets.drawing import page_share, path_svg
from interlock.plan.threading import Stretch, Threading
from interlock.plan.threading_ends import tail
from interlock.plan.threading_pull import Step, all_links, link_steps, weight_npm
from interlock.plan.times import local
from interlock.showfile.show import Link, Show


def threading_sheet(show: Show, threading: Threading) -> Sheet:
    """The whole sheet."""
    film = show.film
    feet = film.tape_ft_from_frames
    count = len(threading.stretches)
    ends = tail(show)
    blocks: list[Block] = [
        Facts(
            (
                ("path", f"{feet(threading.path_fr):,.0f} ft"),
                ("leader needed", f"{feet(threading.leader_fr):,.0f} ft"),
                ("rollers", f"{threading.rollers}"),
                ("stretches", f"{count}"),
                (f"with a crew of {show.threading.crew}, about", f"{math.ceil(threading.time_s / 60)} min"),
                ("tail needed", film.format_footage(math.ceil(ends.need_fr))),
                ("tail of the print", film.format_footage(ends.have_fr)),
            )
        ),
        Cautions(tuple(threading_cautions(show))),
        *(Para(stretch.remedy, strong=True) for stretch in threading.stretches if not stretch.can_be_done),
        *(Para(text, strong=True) for text in sheet_notes(show, threading)),
        Picture(
            path_svg(show, threading),
            "the path of the film, house by house",
            "path.svg",
            page_share(show),
        ),
    ]
    for stretch in threading.stretches:
        blocks += _stretch(show, threading, stretch)
    if count > 1:
        blocks.append(Para("Join each stretch to the one threaded before it at once, and check the join."))
    blocks.append(
        Para(
            "Rollers bear their numbers along the link; the wrap behind the link is that of all without one."
        )
    )
    blocks += [Heading("In use"), *_in_use(show, threading)]
    when = f"motors start {local(show, 0.0):%Y-%m-%d %H:%M:%S %z}"
    return Sheet("threading", "Threading", show.title, when, tuple(blocks))


def sheet_notes(show: Show, threading: Threading) -> list[str]:
    """What must be put right before one threads, other than stretches that cannot be done."""
    said: list[str] = []
    film, s = show.film, show.threading
    ends = tail(show)
    if ends.short_fr > 0:
        said.append(
            f"The tail is too short: add {film.format_footage(math.ceil(ends.short_fr))}. It needs the length of link "
            f"{ends.link} with its loop, {film.format_footage(math.ceil(ends.least_fr))}, and a margin."
        )
    for what, limit_n in (
        ("the splices bear", s.splice_n),
        ("the hand that laces against it bears", s.hand_n),
    ):
        over = [r for r in threading.running if r.pull_n > limit_n]
        if over:
            said.append(
                f"In use the film is pulled harder than {what} ({limit_n:.0f} N): "
                + ", ".join(f"{r.link} {r.pull_n:.1f} N" for r in over)
                + ". Let rollers turn, take some out, or put a driven roller between."
            )
    hard = [r for r in threading.running if s.running_n < r.pull_n <= min(s.splice_n, s.hand_n)]
    if hard:
        said.append(
            f"In use the pull is above {s.running_n:.1f} N, all that a gate or a take-up is set to: "
            + ", ".join(f"{r.link} {r.pull_n:.1f} N" for r in hard)
            + ". Oil or change rollers there first."
        )
    return [*said, *roll_notes(show, threading)]


def _stretch(show: Show, threading: Threading, stretch: Stretch) -> list[Block]:
    feet = show.film.tape_ft_from_frames
    joined = f", join its head at {stretch.end.name}" if stretch.number > 1 else ""
    pull = f"{stretch.pull_n:.1f} N" if stretch.pull_n < 1000.0 else "more than 1,000 N"
    verdict = (
        f"the {threading.limit_of} bears {threading.limit_n:.0f} N"
        if stretch.can_be_done
        else f"CANNOT BE DONE, the {threading.limit_of} bears {threading.limit_n:.0f} N"
    )
    return [
        Heading(f"{stretch.number}. From {stretch.begin.name} to {stretch.end.name}{joined}"),
        Para(
            f"{feet(stretch.leader_fr):,.0f} ft of leader, {stretch.rollers} rollers, pull at the head {pull} when it "
            f"arrives ({verdict}), about {format_time(stretch.time_s)[:-3]} h."
            if stretch.time_s >= 3600
            else f"{feet(stretch.leader_fr):,.0f} ft of leader, {stretch.rollers} rollers, pull at the head {pull} when "
            f"it arrives ({verdict}), about {math.ceil(stretch.time_s / 60)} min."
        ),
        *_walks(show, stretch),
    ]


def _walks(show: Show, stretch: Stretch) -> list[Walk]:
    """A line for each link that the stretch runs along, what is met on it in walk order."""
    walks: list[Walk] = []
    weight, start_fr = weight_npm(show.film), 0.0
    houses = {house.id: house for house in show.houses}
    for link in all_links(show):
        end_fr = start_fr + link.path_fr
        begins = max(stretch.begin.at_fr, start_fr) - start_fr
        ends = min(stretch.end.at_fr, end_fr) - start_fr
        if begins < ends:
            steps = link_steps(link, show.threading, weight)
            chips = _chips(show, link, steps, begins, ends)
            if ends == link.path_fr and link.downstream in houses and stretch.end.at_fr > end_fr:
                chips.append(Chip("machine", f"past {houses[link.downstream].name}, open; laced later"))
            elif ends == link.path_fr:
                chips.append(
                    Chip(
                        "machine",
                        f"{houses[link.downstream].name if link.downstream in houses else 'take-up'}",
                    )
                )
            feet = show.film.tape_ft_from_frames(link.path_fr)
            wrap = f", {math.degrees(usual_wrap(link)):.0f}°" if link.rollers else ""
            walks.append(Walk(f"{link.id}, {feet:.0f} ft{wrap}", tuple(chips)))
        start_fr = end_fr
    return walks


def usual_wrap(link: Link) -> float:
    """The wrap that most rollers of the link have, in radians: said once, and of the others only what differs."""
    wraps = [roller.wrap_rad for roller in link.rollers]
    return max(wraps, key=wraps.count, default=0.0)


def _chips(show: Show, link: Link, steps: list[Step], begins: float, ends: float) -> list[Chip]:
    """Everything on the link from ``begins`` to ``ends`` frames, hazards of unknown place first."""
    feet = show.film.tape_ft_from_frames
    met: list[tuple[float, int, Chip]] = []
    for hazard in hazards_of(show, link):
        at_fr = hazard.at_fr
        where = "" if at_fr is None else f" at {feet(at_fr):.0f} ft"
        if at_fr is None or begins <= at_fr <= ends:
            met.append((-1.0 if at_fr is None else at_fr, 0, Chip("hazard", f"▲ {hazard.what}{where}")))
    met += [
        (fr, 1, Chip("table", f"table {feet(fr):.0f} ft")) for fr in link.tables_fr if begins <= fr <= ends
    ]
    usual = usual_wrap(link)
    surveyed = any(roller.at_fr is not None for roller in link.rollers)
    for step in steps:
        # A roller just at a table belongs to the stretch that ends there.
        if not (begins < step.at_fr <= ends or begins == step.at_fr == 0.0):
            continue
        if step.kind == "lift":
            arrow, way = ("↑", "up") if step.by_m > 0 else ("↓", "down")
            met.append((step.at_fr, 2, Chip("lift", f"{arrow} {abs(step.by_m) / 0.3048:.0f} ft {way}")))
            continue
        where = f" {feet(step.at_fr):.0f} ft" if surveyed else ""
        wrap = "" if step.wrap_rad == usual else f" {math.degrees(step.wrap_rad):.0f}°"
        text = f"{step.number}{wrap}{where}"
        chip = Chip("stuck", f"{text} DOES NOT TURN") if step.stuck else Chip("roller", text)
        met.append((step.at_fr, 3, chip))
    return [chip for _, _, chip in sorted(met, key=lambda m: (m[0], m[1]))]


def _in_use(show: Show, threading: Threading) -> list[Para]:
    """The running pull at every sprocket downstream, and the rolls."""
    pulls = ", ".join(f"{r.link} {r.pull_n:.1f} N" for r in threading.running)
    said = []
    for r in rolls(show, threading):
        verdict = {True: "fits", False: "TOO LARGE", None: "no largest size given"}[r.fits]
        heavy = {True: ", not too heavy", False: ", TOO HEAVY", None: ""}[r.bears]
        size = f"{r.diameter_m / 0.0254:.1f} in across, {r.weight_kg / 0.45359237:.0f} lb"
        said.append(f"{r.what} {size}: {verdict}{heavy}")
    return [Para(f"Pull at the sprocket behind each link: {pulls}."), Para(f"Rolls: {'; '.join(said)}.")]
