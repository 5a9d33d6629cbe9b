"""A booth is seldom wired all at once: a house of whose machine nothing is wired holds up nothing and trips nothing."""

from __future__ import annotations

import msgspec
import pytest
from rig import FPS, Rig, make_show

from interlock.signals import Contacts, Counts, Wiring
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor
from interlock.watch.state import Line, LinkLine, ShowLine

WALL0_S = 1_800_000_000.0


class Partly(Rig):
    """Four houses, of one of which only the lamp is wired."""

    def __init__(self, house: str, minutes: float = 2.0) -> None:
        super().__init__(make_show(4, minutes=minutes))
        self.house = house
        adapters = tuple(
            msgspec.structs.replace(a, wiring=Wiring({1: f"{house}.lamp"}, {}))
            if a.name == f"a{house}"
            else a
            for a in self.show.adapters
        )
        self.desk = Desk(msgspec.structs.replace(self.show, adapters=adapters), Anchor(0.0, WALL0_S))
        self.up()

    def feed(self, x: object) -> list[Line]:
        """As the adapter would say it with that wiring."""
        if isinstance(x, Counts) and x.adapter == f"a{self.house}":
            return []
        if isinstance(x, Contacts) and x.adapter == f"a{self.house}":
            x = msgspec.structs.replace(x, values=tuple(v for v in x.values if v[0].endswith(".lamp")))
        return super().feed(x)

    def phases(self) -> list[str]:
        return [x.phase for x in self.of(ShowLine)]


@pytest.mark.parametrize("house", ["1", "2", "4"])
def test_the_others_are_running_once_they_are_at_speed_and_the_one_that_is_fast_is_named(house: str) -> None:
    rig = Partly(house)
    rig.start(60.0)
    rig.truth[2].fps = FPS * 1.01
    rig.go(75.0)
    assert rig.phases()[-1] == "running"
    assert ("speed-off", "3") in rig.alarms()
    assert {x.link for x in rig.of(LinkLine) if x.drift_fr is not None} == {
        link.id for link in rig.show.links if house not in link.id.split(">")
    }


@pytest.mark.parametrize("house", ["1", "4"])
def test_when_all_others_stand_the_show_has_stopped_and_when_all_are_through_it_has_ended(house: str) -> None:
    rig = Partly(house, minutes=0.2)
    rig.start(60.0)
    for truth in rig.truth:
        truth.spans = [(60.0, 70.0), (80.0, 1e9)]
    rig.go(75.0)
    assert rig.phases()[-1] == "stopped"
    rig.do("restart")
    for k, truth in enumerate(rig.truth):
        clear_s = 70.6 + 0.6 + (288.0 + 288.0 + 600.0 + k * 200.0) / FPS
        truth.spans, truth.film_gone_s = [(60.0, 70.0), (80.0, clear_s + 1.0)], clear_s
    rig.go(160.0)
    assert rig.phases()[-3:] == ["running", "running-out", "ended"]


@pytest.mark.parametrize("house", ["1", "2", "4"])
def test_the_loops_beside_it_are_not_known_and_trip_nothing_for_it(house: str) -> None:
    """contract.md: signals that are not wired never trip an alarm. `check` says before the show what cannot be watched."""
    rig = Partly(house)
    rig.start(60.0)
    rig.go(110.0)
    assert [x for x in rig.alarms() if x[0] == "blind"] == []
    assert {x.link for x in rig.of(LinkLine) if x.drift_fr is None} >= {
        link.id for link in rig.show.links if house in link.id.split(">")
    }


def test_a_loop_both_of_whose_machines_are_wired_is_blind_where_one_of_them_cannot_be_known() -> None:
    rig = Partly("4")
    rig.start(60.0)
    real = rig.truth[1].run
    rig.truth[1].run = lambda t: real(t) and t < 90.0  # type: ignore[method-assign]
    rig.go(110.0)
    assert {s for c, s in rig.alarms() if c == "blind"} == {"1>2", "2>3"}
