"""An adapter that is lost before the start: what the others say is judged as ever, and what it tells later as well."""

from __future__ import annotations

import msgspec
import pytest
from rig import FPS, Rig, make_show

from interlock.signals import AdapterSpec, Contacts, Wiring
from interlock.watch.state import ShowLine


def _rig(back_s: float) -> Rig:
    """Four houses; the last one's adapter is not heard from before the start on."""
    rig = Rig(make_show(4))
    rig.up()
    rig.start(60.0)
    rig.silent = [("a4", 50.0, back_s)]
    return rig


def _phases(rig: Rig) -> list[str]:
    return [x.phase for x in rig.of(ShowLine)]


@pytest.mark.parametrize("back_s", [1e9, 80.0])
def test_the_others_are_running_once_they_are_at_speed_and_the_one_that_is_fast_is_named(
    back_s: float,
) -> None:
    rig = _rig(back_s)
    rig.truth[1].fps = FPS * 1.01
    rig.go(75.0)
    assert _phases(rig)[-1] == "running"
    rig.go(90.0)
    assert ("speed-off", "2") in rig.alarms()
    assert ("start-late", "4") not in rig.alarms()


def test_a_machine_that_is_found_not_to_have_started_is_late_although_the_others_run() -> None:
    rig = _rig(75.0)
    rig.truth[3].spans = []
    rig.go(80.0)
    assert _phases(rig)[-1] == "running"
    assert ("start-late", "4") in rig.alarms()


def test_a_stop_of_all_stays_one_while_the_only_adapter_of_all_houses_is_lost() -> None:
    show = make_show(2, counters=False)
    levels = {n: f"{house}.run" for n, house in enumerate(("1", "2"))}
    one = AdapterSpec("a1", "simulator", {}, Wiring(levels, {}))
    rig = Rig(msgspec.structs.replace(show, adapters=(one,)))
    for step in range(241, 280):
        at_s = step / 4
        rig.feed(Contacts(at_s, at_s, "a1", (("1.run", step > 250), ("2.run", step > 250))))
    assert _phases(rig)[-1] == "running"
    rig.t = 70.0
    rig.do("stop-all")
    rig.t = 80.0
    rig.do("note", text="the power of the booth is off")
    assert _phases(rig)[-1] == "stopped"
    assert ("adapter-lost", "a1") in rig.alarms()
