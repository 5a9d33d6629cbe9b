"""The sheet that a booth goes by alone: what the desk puts on it, which is taken, and which changes nothing."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec
import pytest
from desk_rig_show import two_gates
from lone_parts import OF, Booth, sheet

from drivers.mqtt_sheet import MOST_BYTES, SheetCue, SheetHouse, decode_sheet, encode_sheet
from interlock.bus import Bus
from interlock.clock import VirtualClock
from interlock.plan.timeline import house_times
from interlock.service.folding import Folding
from interlock.service.sheet import houses_of, make_sheet
from interlock.signals import AdapterSpec, Contacts, Wiring
from interlock.watch.inputs import Action


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


def test_houses_of_a_station_are_those_wired_there_and_those_of_the_same_booth() -> None:
    show = two_gates()
    wired = AdapterSpec("far", "told", {}, Wiring({0: "2.run", 1: "1>2.tight"}))
    apart = msgspec.structs.replace(show, adapters=(*show.adapters, wired))
    assert houses_of(apart, {"far"}) == {"2"}
    together = msgspec.structs.replace(
        apart, houses=tuple(msgspec.structs.replace(h, booth="south") for h in show.houses)
    )
    assert houses_of(together, {"far"}) == {"1", "2"}
