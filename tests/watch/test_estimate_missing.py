"""A start or stop that is first told after words that are missing: dated back, and no surer than it can be."""

from __future__ import annotations

import math
import random

import pytest
from rig import FPS, WALL0_S, make_show

from interlock.signals import Contacts, Presence
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Tick
from interlock.watch.motion import Motion
from interlock.watch.readings import LOST_BACK, LOST_SIGMA

START_S = 61.0
SHOW = make_show(2, counters=False)


class Room:
    """Two machines without counters, told of by hand."""

    def __init__(self) -> None:
        self.desk = Desk(SHOW, Anchor(0.0, WALL0_S))
        for a in SHOW.adapters:
            self.desk.step(Presence(0.0, 0.0, a.name, "up"))
            self.tell(0.1, a.name, run=False)
        self.desk.step(Action(50.0, "arm"))

    def tell(self, t_s: float, adapter: str, *, run: bool, missing: bool = False) -> None:
        house = adapter[1:]
        values = ((f"{house}.run", run), (f"{house}.film", True))
        self.desk.step(Contacts(t_s, t_s, adapter, values, missing))

    def drift(self, t_s: float) -> tuple[float, float]:
        for step in range(int(START_S * 4) + 1, int(t_s * 4)):
            for a in SHOW.adapters:
                self.tell(step / 4, a.name, run=True)
        self.desk.step(Tick(t_s))
        link = self.desk.state().links[0]
        assert link.drift_fr is not None
        assert link.sigma_fr is not None
        return link.drift_fr, link.sigma_fr


def _started(told_s: float, word_before_s: float, *, missing: bool) -> tuple[float, float]:
    room = Room()
    for step in range(200, 244):
        for a in SHOW.adapters:
            room.tell(step / 4, a.name, run=False)
    room.tell(word_before_s, "a2", run=False)
    room.tell(START_S, "a1", run=True)
    room.tell(told_s, "a2", run=True, missing=missing)
    return room.drift(START_S + 5.0)


def test_with_nothing_missing_a_start_is_of_its_words_own_date() -> None:
    drift_fr, sigma_fr = _started(START_S + 0.20, START_S, missing=False)
    assert drift_fr == pytest.approx(0.20 * FPS, abs=1e-6)
    at_once_fr = _started(START_S + 0.01, START_S, missing=False)[1]
    assert sigma_fr == pytest.approx(at_once_fr, abs=1e-6), "it is no less sure for being late"


def test_after_missing_words_a_start_is_dated_back_by_a_quarter_of_the_time_since_the_word_before() -> None:
    drift_fr, sigma_fr = _started(START_S + 0.20, START_S, missing=True)
    assert drift_fr == pytest.approx(0.15 * FPS, abs=1e-6)
    exact_fr = _started(START_S + 0.20, START_S, missing=False)[1]
    assert sigma_fr == pytest.approx(math.hypot(exact_fr, LOST_SIGMA * 0.20 * FPS), abs=1e-6)


def test_after_a_gap_in_which_repeats_are_missing_it_is_dated_in_the_middle() -> None:
    drift_fr, sigma_fr = _started(START_S + 0.50, START_S, missing=True)
    assert drift_fr == pytest.approx(0.25 * FPS, abs=1e-6)
    assert sigma_fr >= 0.50 * FPS / math.sqrt(12.0)


def test_what_is_believed_of_such_a_date_is_what_chance_does() -> None:
    """Even odds that the word is the change's own or that one of those missing was: mean and variance by drawing lots."""
    rng = random.Random(12)
    ages = [0.0 if rng.random() < 0.5 else rng.random() for _ in range(200_000)]
    mean = math.fsum(ages) / len(ages)
    var = math.fsum((a - mean) ** 2 for a in ages) / len(ages)
    assert mean == pytest.approx(LOST_BACK, abs=0.003)
    assert math.sqrt(var) == pytest.approx(LOST_SIGMA, abs=0.003)


def test_a_wrongly_dated_start_is_off_by_the_more_frames_the_faster_the_machine_is() -> None:
    m = Motion(FPS, 1.2, 0.3, 0.0, 0.0)
    m.rezero(0.0, turning=False)
    m.edge(10.0, turning=True, date_sigma_s=0.1)
    sigmas = [math.sqrt(m.at(10.0 + t_s)[2]) for t_s in (0.0, 0.3, 0.6, 1.2, 5.0)]
    assert sigmas == pytest.approx([0.0, 0.6, 1.2, 2.4, 2.4], abs=1e-9)  # [C] 0.1 s × the ramp's speed then
