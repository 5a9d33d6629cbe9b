"""A booth that is cut off: what is to be done when, and what its screen shows."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from lone_parts import Booth, sheet
from mqtt_line import FarClock

from drivers.mqtt_sheet import SheetCue, SheetHouse, encode_sheet
from interlock.clock import VirtualClock
from interlock.signals import Counts


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


def test_what_is_not_known_is_not_shown_as_it_was(tmp_path: Path) -> None:
    b = Booth(tmp_path)
    b.stream.add(Counts(100.0, 100.0, "north", (("4.frames", 77.0, 99.9),)))
    assert b.alone.frames() == {"4.frames": 77.0}
    later = FarClock(VirtualClock(103.0), 0.0)
    b.stream._clock = later
    assert b.alone.frames() == {}
    b.journal.close()
