"""Two adapters whose crystals are 200 ppm off, each the other way, through four hours of a show: what the operator reads."""

from __future__ import annotations

import random

import pytest
from hand_rows import by_hand

from drivers.firmware import line
from drivers.serial_session import Session
from interlock.sentences import sentence
from interlock.showfile.show import House, Link, Part, Show
from interlock.signals import AdapterSpec, CounterWire, Wiring
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Tick
from interlock.watch.state import AlarmLine, Line, LinkLine

FOUR_HOURS_S = 4 * 3600
STEP_S = 0.25
START_S = 20.0
PPM = {"north": 200.0, "south": -200.0}
HOUSES = {"north": "1", "south": "2"}


def show() -> Show:
    return Show(
        title="A long evening",
        film_key="35mm-4p",
        fps=24.0,
        motor_start_wall_s=1_790_000_000.0 + START_S,
        timezone="Etc/UTC",
        first_picture_fr=288.0,
        parts=(Part("one", "feature", 24 * 5 * 3600, 0),),
        houses=(House("1", "House 1", lit=False), House("2", "House 2", lit=False)),
        links=(Link("1", "2", 928.0, tight_fr=48.0, spill_fr=48.0),),
        adapters=tuple(
            AdapterSpec(n, "serial", {}, Wiring({0: f"{h}.run"}, {0: CounterWire(f"{h}.frames")}))
            for n, h in HOUSES.items()
        ),
    )


def frames(at_s: float) -> float:
    """What each machine has run: both alike, at 24 fps by the sun."""
    run_s = at_s - START_S
    return 0.0 if run_s <= 0 else 24.0 * (run_s * run_s / 2 if run_s < 1.0 else run_s - 0.5)


@pytest.mark.long
@by_hand("let two adapters' clocks run 200 millionths fast and slow for four hours")
def test_clocks_200_ppm_apart_are_no_drift_of_the_film_and_no_alarm() -> None:
    chance = random.Random(4)
    desk, lines = Desk(show(), Anchor(0.0, 1_790_000_000.0)), list[Line]()
    sessions = {
        spec.name: Session(spec, "p", lambda r: lines.extend(desk.step(r)), lambda data: None)
        for spec in show().adapters
    }
    lines += desk.step(Action(0.0, "arm"))
    for session in sessions.values():
        session.opened(0.0)
    seq, pulses = dict.fromkeys(sessions, 0), dict.fromkeys(sessions, (0, 0))
    worst_fr, judged, naive_fr, said = 0.0, 0, 0.0, []
    for n in range(1, round((FOUR_HOURS_S + START_S) / STEP_S)):
        true_s = n * STEP_S
        late = sorted((true_s + 0.002 + min(0.05, chance.expovariate(1 / 0.004)), name) for name in sessions)
        for at_s, name in late:
            tick = int(true_s * 1000 * (1 + PPM[name] * 1e-6))
            whole = int(frames(true_s))
            if whole != pulses[name][0]:
                # The pulse itself, dated by the adapter's own clock.
                pulse_s = START_S + 0.5 + whole / 24.0 if whole >= 12 else true_s
                pulses[name] = (whole, int(pulse_s * 1000 * (1 + PPM[name] * 1e-6)))
            count = "%d@%d" % pulses[name]  # noqa: UP031
            turns = "1" if true_s >= START_S else "0"
            data = line.whole("CT", seq[name] % 65536, tick, [count])
            data += line.whole("LV", (seq[name] + 1) % 65536, tick, [turns])
            seq[name] += 2
            sessions[name].data(at_s, data)
        lines += desk.step(Tick(true_s + 0.1))
        for x in lines:
            if isinstance(x, LinkLine) and x.drift_fr is not None:
                worst_fr, judged = max(worst_fr, abs(x.drift_fr)), judged + 1
            elif isinstance(x, AlarmLine):
                said.append(sentence(x))
        lines.clear()
        naive_fr = 24.0 * true_s * (PPM["north"] - PPM["south"]) * 1e-6
    assert naive_fr == pytest.approx(138.0, abs=1.0), "if their clocks were believed: three loops' worth"
    assert judged >= FOUR_HOURS_S
    assert worst_fr < 0.5
    assert said == []
    assert desk.state().phase == "running"
