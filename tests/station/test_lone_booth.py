"""A booth that is cut off: which sheet it goes by, what is to be done when, and what its screen shows."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import msgspec
import pytest
from desk_rig_show import two_gates
from mqtt_line import FarClock

from drivers.mqtt_sheet import MOST_BYTES, Sheet, SheetCue, SheetHouse, decode_sheet, encode_sheet
from interlock.bus import Bus
from interlock.clock import VirtualClock
from interlock.plan.timeline import house_times
from interlock.service.folding import Folding
from interlock.service.publish import alarm_topic
from interlock.service.sheet import houses_of, make_sheet
from interlock.signals import AdapterSpec, Contacts, Counts, Wiring
from interlock.station.alone import Alone
from interlock.station.board import WIDTH, board
from interlock.station.journal import Journal
from interlock.station.lone import Lone
from interlock.station.stream import Stream
from interlock.watch.inputs import Action
from interlock.watch.state import AlarmLine

OF = "booth/north"


def sheet(**changed: Any) -> Sheet:
    cues = (
        SheetCue("strike-lamp", 10.0, 25.0, "coming"),
        SheetCue("open-dowser", 54.0, 69.0, "coming"),
        SheetCue("masking wide", 80.0, None, "coming"),
        SheetCue("motor-off", 900.0, 915.0, "coming"),
    )
    made = Sheet(
        of=OF,
        desk="one",
        wall_s=1_790_000_000.0,
        title="Two gates",
        timezone="Etc/UTC",
        phase="running",
        plan_s=-15.0,
        standing=False,
        watching=True,
        houses=(SheetHouse("4", "House 4", cues),),
    )
    return msgspec.structs.replace(made, **changed)


class Booth:
    """A station's parts on a clock moved by hand."""

    def __init__(self, folder: Path, now_s: float = 100.0) -> None:
        self.hand = VirtualClock(now_s)
        self.clock = FarClock(self.hand, 0.0)
        self.journal = Journal(folder / "j", self.clock)
        self.lone = Lone(OF, self.journal, self.clock)
        self.stream = Stream("booth", "north", "north", self.journal, self.clock)
        self.lines: list[str] = []
        self.alone = Alone({"north": self.stream}, self.lone, self.journal, self.clock, self.lines.append)
        self.known: dict[str, bool] = {"4.run": True, "4.lamp": False}

    async def wait(self, seconds: float, *, asked: bool = False) -> None:
        for _ in range(round(seconds / 0.25)):
            await self.hand.advance_to(self.hand.now_s() + 0.25)
            now_s = self.clock.now_s()
            self.stream.add(Contacts(now_s, now_s, "north", tuple(self.known.items())))
            if asked:
                self.stream.asked_s = now_s
            self.alone.look()

    def todo(self) -> list[tuple[str, str]]:
        return [(r.do, r.state) for r in self.alone.rows()]

    def screen(self, height: int = 24) -> str:
        since_s = self.alone.since_s
        lines = board(
            "Station north of booth",
            self.lone,
            alone_s=None if since_s is None else self.clock.now_s() - since_s,
            rows=self.alone.rows(),
            contacts=self.alone.contacts(),
            frames=self.alone.frames(),
            adapters=["north"],
            said=[],
            height=height,
        )
        assert len(lines) <= height
        assert all(len(text) <= WIDTH for text, _ in lines)
        return "\n".join(text for text, _ in lines)


async def test_a_booth_cut_off_counts_the_desks_own_times_on_and_says_each_cue_when_it_is_due(
    tmp_path: Path,
) -> None:
    b = Booth(tmp_path)
    b.lone.take(encode_sheet(sheet()), retained=False)
    await b.wait(2.0, asked=True)
    assert b.alone.since_s is None
    assert "A desk listens." in b.screen()
    await b.wait(2.5)
    assert any(line.startswith("ALONE") for line in b.lines), b.lines
    assert "THIS BOOTH IS ALONE FOR 0:02" in b.screen()
    first = b.lone.rows(b.known)[0]
    assert (first.do, first.state) == ("strike the lamp", "coming")
    assert first.in_s == pytest.approx(25.0 - 4.5)
    masking = next(r for r in b.lone.rows(b.known) if r.do == "masking wide")
    assert masking.planned, "the desk did not know when: the plan does, 95 s after plan time -15 s"
    assert masking.in_s == pytest.approx(95.0 - 4.5)
    assert "(by the plan)" in b.screen()
    await b.wait(21.0)
    assert any("NOW" in line and "strike the lamp" in line for line in b.lines)
    assert b.todo()[0] == ("strike the lamp", "due")
    await b.wait(10.0)
    assert b.todo()[0] == ("strike the lamp", "late"), "its contact says that it is not lit"
    assert "LATE" in b.screen()
    b.known["4.lamp"] = True
    await b.wait(0.25)
    assert b.todo()[0] == ("open the dowser", "coming"), "its contact says that it has been done"
    assert len([x for x in b.lines if "NOW" in x]) == 1, "said once"
    assert len([x for x in b.lines if "strike the lamp" in x and " in 0:" in x]) <= 1
    await b.wait(33.5)
    assert b.todo()[0] == ("open the dowser", "due")
    await b.wait(61.0)
    assert "open the dowser" not in [do for do, _ in b.todo()], "no contact can say; asked for a minute"
    await b.wait(0.5, asked=True)
    assert b.lines[-1] == "a desk listens"
    b.journal.close()


async def test_a_station_started_anew_while_cut_off_still_has_its_sheet(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    b.lone.take(encode_sheet(sheet()), retained=False)
    await b.wait(5.0)
    b.journal.close()
    again = Booth(tmp_path, now_s=b.hand.now_s() + 10.0)
    assert again.lone.sheet == sheet()
    assert again.lone.rows({})[0].in_s == pytest.approx(25.0 - 15.0)
    await again.wait(3.0)
    assert "Two gates" in again.screen()
    assert "ALONE" in again.screen()
    again.journal.close()


async def test_a_booth_cut_off_before_the_start_goes_by_its_own_motors_start(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    b.known["4.run"] = False
    [house] = sheet().houses
    late = sheet(phase="armed", houses=(msgspec.structs.replace(house, start_s=2.0),))
    b.lone.take(encode_sheet(late), retained=False)  # plan time -15 s
    await b.wait(5.0)
    assert b.alone.rows()[0].in_s == pytest.approx(20.0), "the plan's, as long as nothing turns"
    await b.wait(30.0)
    b.known["4.run"] = True  # at plan time 20 s by the clock, and it was to turn at 2 s: 18 s late
    await b.wait(10.0)
    masking = next(r for r in b.alone.rows() if r.do == "masking wide")
    assert masking.in_s == pytest.approx(80.0 - 2.0 - 9.75, abs=0.3)
    assert not masking.planned
    b.journal.close()
    again = Booth(tmp_path, now_s=b.hand.now_s() + 5.0)
    again.known["4.run"] = True
    await again.wait(5.0)
    after = next(r for r in again.alone.rows() if r.do == "masking wide")
    assert after.in_s == pytest.approx(masking.in_s - 10.0, abs=0.3), (
        "and a station started anew still knows it"
    )
    assert "As the desk knew it at" in again.screen()
    again.journal.close()


async def test_while_all_machines_stand_no_time_counts_on(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    b.lone.take(encode_sheet(sheet(phase="stopped", standing=True)), retained=False)
    await b.wait(60.0)
    assert b.lone.rows({})[0].in_s == 25.0
    assert "all machines standing: no time counts on" in b.screen()
    assert not [line for line in b.lines if "NOW" in line]
    b.journal.close()


def test_a_retained_sheet_is_as_old_as_it_says_and_never_replaces_what_was_heard(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    made_s = b.clock.wall_s() - 40.0
    b.lone.take(encode_sheet(sheet(wall_s=made_s)), retained=True)
    assert b.lone.age_s() == pytest.approx(40.0)
    b.lone.take(encode_sheet(sheet(wall_s=made_s + 1.0)), retained=False)
    assert b.lone.age_s() == 0.0
    b.lone.take(encode_sheet(sheet(wall_s=made_s + 1.0)), retained=True)
    assert b.lone.age_s() == 0.0, "the broker's copy of what was heard"
    b.journal.close()


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"[]",
        b"{}",
        b'["sheet"]',
        b"\xff\xfe",
        b"[" * 200_000,
        "text",
        None,
        encode_sheet(sheet(of="elsewhere/north")),
        encode_sheet(sheet(of="booth/south")),
        encode_sheet(sheet(timezone="../../etc/passwd")),
        encode_sheet(sheet(timezone="")),
        encode_sheet(sheet(wall_s=1e300)),
        encode_sheet(sheet(title="x" * 201)),
        encode_sheet(sheet(houses=(SheetHouse("4", "", (SheetCue("c", 1e12, None, "coming"),)),))),
        encode_sheet(sheet()).replace(b'"coming"', b'"soon"'),
        encode_sheet(sheet()).replace(b"-15.0", b"NaN"),
        encode_sheet(sheet()).replace(b"-15.0", b"null"),
        b" " * MOST_BYTES + encode_sheet(sheet()),
    ],
)
def test_a_hostile_sheet_changes_nothing_and_is_counted(tmp_path: Path, payload: object) -> None:
    b = Booth(tmp_path)
    b.lone.take(encode_sheet(sheet()), retained=False)
    b.lone.take(payload, retained=False)
    assert b.lone.sheet == sheet()
    assert b.lone.bad == 1
    b.journal.close()


def test_what_a_sheet_says_reaches_the_screen_cleaned(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    evil = (SheetCue("\x1b[2Jlights\u202e[bold]", 5.0, 5.0, "coming"),)
    b.lone.take(
        encode_sheet(sheet(title="a\x1b]0;t\x07b", houses=(SheetHouse("4", "\x9b31m", evil),))),
        retained=False,
    )
    shown = b.screen()
    assert "ab: running" in shown
    assert "house 4: lights[bold]" in shown, "text, not markup"
    assert "\x1b" not in shown
    b.journal.close()


async def test_a_small_screen_shows_the_next_cues_and_how_many_more_there_are(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    many = tuple(SheetCue(f"cue {n}", n * 10.0, n * 10.0, "coming") for n in range(1, 60))
    b.lone.take(encode_sheet(sheet(houses=(SheetHouse("4", "Étoile", many),))), retained=False)
    await b.wait(3.0)
    shown = b.screen()
    assert "THIS BOOTH IS ALONE" in shown
    assert "house 4 (Étoile): turns, lamp out" in shown
    assert "cue 1" in shown
    assert shown.count("  house 4: cue") + 46 == len(many)
    assert "and 46 more" in shown
    assert shown.endswith("no safety device.")
    b.journal.close()


def test_before_a_desk_was_ever_there_the_screen_says_so(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    assert "No desk has given this booth its cue sheet yet." in b.screen()
    b.journal.close()


def test_the_desks_sheet_has_the_plans_times_before_the_start_and_the_estimate_after_it() -> None:
    show = two_gates()
    clock = VirtualClock(0.0, show.motor_start_wall_s - 20.0)
    bus = Bus(clock)
    folding = Folding(show, clock, bus)
    folding.start()
    folding.fold(Action(0.0, "arm"))
    own = houses_of(show, {"north"})
    assert own == {"1", "2"}

    def made() -> dict[tuple[str, str], float | None]:
        found = make_sheet(folding, OF, own, desk="d", wall_s=0.0, watching=True)
        assert decode_sheet(encode_sheet(found), OF) == found
        return {(h.house, c.cue): c.in_s for h in found.houses for c in h.cues}

    planned = {t.house: t for t in house_times(show)}
    assert made()["1", "open-dowser"] == pytest.approx(planned["1"].open_dowser_s + 20.0)
    # House 1 turns 7 s late: everything is to be done 7 s later.
    for k in range(271):
        at_s = k * 0.1
        run = at_s >= 27.0 - 1e-9
        folding.fold(Contacts(at_s, at_s, "north", (("1.run", run), ("2.run", run), ("1.lamp", False))))
    after = made()
    assert after["1", "open-dowser"] == pytest.approx(planned["1"].open_dowser_s, abs=0.2)
    assert after["2", "open-dowser"] == pytest.approx(planned["2"].open_dowser_s, abs=0.2)
    assert all(x is not None and math.isfinite(x) for x in after.values())


def test_an_alarms_topic_is_one_whatever_its_subject_is_called() -> None:
    def topic(subject: str) -> str:
        line = AlarmLine(
            seq=0, at="", show_s=None, code="adapter-lost", subject=subject, state="unacknowledged",
            priority="high", first_out=False, group=None, text="", values={},
        )  # fmt: skip
        return alarm_topic("booth", line)

    assert topic("4>3") == "longlace/booth/desk/alarm/adapter-lost/4>3"
    assert topic("a/+#b") == "longlace/booth/desk/alarm/adapter-lost/a%2F%2B%23b"
    assert len({topic(s) for s in ("a/b", "a%2Fb", "a b", "ab")}) == 4


def test_houses_of_a_station_are_those_wired_there_and_those_of_the_same_booth() -> None:
    show = two_gates()
    wired = AdapterSpec("far", "told", {}, Wiring({0: "2.run", 1: "1>2.tight"}))
    apart = msgspec.structs.replace(show, adapters=(*show.adapters, wired))
    assert houses_of(apart, {"far"}) == {"2"}
    together = msgspec.structs.replace(
        apart, houses=tuple(msgspec.structs.replace(h, booth="south") for h in show.houses)
    )
    assert houses_of(together, {"far"}) == {"1", "2"}


def test_what_is_not_known_is_not_shown_as_it_was(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    b.stream.add(Counts(100.0, 100.0, "north", (("4.frames", 77.0, 99.9),)))
    assert b.alone.frames() == {"4.frames": 77.0}
    later = FarClock(VirtualClock(103.0), 0.0)
    b.stream._clock = later
    assert b.alone.frames() == {}
    b.journal.close()
