"""A splice that is marked in two neighbouring gates measures their drift, where nothing counts."""

from __future__ import annotations

import math
import random

import msgspec
import pytest
from rig import FPS, Rig, make_show

from interlock.watch.marks import REACTION_S
from interlock.watch.state import AlarmLine, LinkLine

PATH_FR = 200.0


def _rig(
    *,
    tolerance: float = 0.002,
    limit_fr: float = 96.0,
    path_tolerance: float = 0.01,
    path_fr: float = PATH_FR,
) -> Rig:
    show = make_show(2, counters=False, minutes=60.0, motor="induction", speed_tolerance=tolerance, lit=False)
    link = msgspec.structs.replace(
        show.links[0], tight_fr=limit_fr, spill_fr=limit_fr, path_fr=path_fr, path_tolerance=path_tolerance
    )
    return Rig(msgspec.structs.replace(show, links=(link,)))


def _link(rig: Rig) -> LinkLine:
    return rig.desk.state().links[0]


def _pair(
    rig: Rig, frame: float, at_s: float, path_fr: float, noise: tuple[float, float] = (0.0, 0.0)
) -> None:
    """The frame that is in the first gate at ``at_s`` is marked there, and in the second when it comes there."""
    rig.go(at_s + noise[0])
    rig.do("mark", house="1", frame=frame)
    # frame(1) − frame(2) = path + drift, when it is in the second gate: the first has run just that since.
    left_fr = rig.truth[0].frames(at_s)
    t_s = at_s
    for _ in range(60):
        ran_fr = rig.truth[0].frames(t_s) - left_fr
        t_s += (path_fr + rig.drift(0, t_s) - ran_fr) / FPS
    rig.go(t_s + noise[1])
    rig.do("mark", house="2", frame=frame)


def _creep(rig: Rig, share: float) -> None:
    real = rig.truth[1].frames
    rig.truth[1].frames = lambda t: real(t) * (1.0 + share)  # type: ignore[method-assign]


def test_without_marks_the_drift_of_uncounted_machines_grows_uncertain_until_the_link_is_blind() -> None:
    rig = _rig()
    rig.start(60.0, light=False)
    rig.go(900.0)
    assert _link(rig).sigma_fr == pytest.approx(0.002 * FPS * math.sqrt(2.0) * 840.0, rel=0.01)
    assert ("blind", "1>2") in rig.alarms()


def test_one_splice_in_two_neighbouring_gates_twice_measures_the_drift() -> None:
    rig = _rig()
    rig.start(60.0, light=False)
    _creep(rig, -0.001)
    for n, at_s in enumerate((100.0, 500.0)):
        _pair(rig, 100.0 * n, at_s, PATH_FR)
    line = _link(rig)
    true_fr = rig.drift(0, rig.t)
    assert true_fr > 10.0
    assert line.drift_fr == pytest.approx(true_fr, abs=3.0)
    assert line.sigma_fr is not None
    assert line.sigma_fr < 0.4 * 0.002 * FPS * math.sqrt(2.0) * (rig.t - 60.0)
    assert line.rate_fps == pytest.approx(0.001 * FPS, abs=0.01)


def test_the_surveys_error_is_not_taken_for_drift() -> None:
    """The path is 20 frames longer than surveyed, twice its tolerance: the first pair shows that, the others do not."""
    rig = _rig(path_tolerance=0.05)
    rig.start(60.0, light=False)
    for n, at_s in enumerate((70.0, 300.0, 600.0, 900.0)):
        _pair(rig, 100.0 * n, at_s, PATH_FR + 20.0)
    line = _link(rig)
    assert line.sigma_fr is not None
    assert abs(line.drift_fr or 99.0) < 2.5 * line.sigma_fr
    assert abs(line.drift_fr or 99.0) < 15.0


def test_links_that_would_be_blind_are_not_while_splices_are_marked() -> None:
    rig = _rig(tolerance=0.0005)
    rig.start(60.0, light=False)
    for n in range(8):
        _pair(rig, 100.0 * n, 100.0 + 100.0 * n, PATH_FR)
    assert ("blind", "1>2") not in rig.alarms()
    still = _rig(tolerance=0.0005)
    still.start(60.0, light=False)
    still.go(rig.t)
    assert ("blind", "1>2") in still.alarms()


def test_a_mark_alone_or_against_the_film_or_of_another_frame_tells_nothing_of_the_drift() -> None:
    rig = _rig()
    rig.start(60.0, light=False)
    rig.go(100.0)
    for house, frame in (("2", 5.0), ("1", 5.0), ("1", 7.0), ("2", 9.0)):
        before = _link(rig)
        rig.do("mark", house=house, frame=frame)
        assert (_link(rig).drift_fr, _link(rig).sigma_fr) == (before.drift_fr, before.sigma_fr)


def test_a_pair_that_is_out_of_all_reason_is_not_believed() -> None:
    rig = _rig()
    rig.start(60.0, light=False)
    rig.go(100.0)
    rig.do("mark", house="1", frame=0.0)
    rig.go(300.0)  # 4,800 frames for a path of 200: another splice, or another house
    before = _link(rig)
    rig.do("mark", house="2", frame=0.0)
    assert _link(rig).drift_fr == before.drift_fr


def test_what_marks_have_told_ends_with_the_run() -> None:
    rig = _rig()
    rig.start(60.0, light=False)
    _pair(rig, 0.0, 100.0, PATH_FR)
    _pair(rig, 50.0, 300.0, PATH_FR)
    for truth in rig.truth:
        truth.spans = [(60.0, rig.t + 1.0)]
    rig.go(rig.t + 5.0)
    assert rig.desk._w.loops[0].marks is not None
    assert rig.desk._w.loops[0].marks.at(rig.t, rig.desk._w.loops[0]) is None


def test_over_many_shows_the_sigma_of_a_marked_link_is_what_its_errors_are() -> None:
    """Machines off by their tolerance, a survey off by its own, and keys pressed with the scatter of persons."""
    z = []
    for seed in range(30):
        rng = random.Random(seed)
        # The rig's ramps are exact; what is off is what is drawn here.
        rig = _rig(tolerance=0.002, limit_fr=400.0, path_tolerance=0.02)
        show = rig.show
        rig.start(60.0, light=False)
        for truth in rig.truth:
            truth.fps = FPS * (1.0 + rng.gauss(0.0, 0.002))
        path_fr = PATH_FR * (1.0 + rng.gauss(0.0, 0.02))
        assert show.links[0].path_tolerance == 0.02
        for n, at_s in enumerate((80.0, 110.0, 160.0)):
            late = (0.7 + rng.gauss(0.0, REACTION_S), 0.7 + rng.gauss(0.0, REACTION_S))
            _pair(rig, 100.0 * n, at_s, path_fr, late)
        line = _link(rig)
        assert line.drift_fr is not None
        assert line.sigma_fr
        z.append((line.drift_fr - rig.drift(0, rig.t)) / line.sigma_fr)
    rms = math.sqrt(math.fsum(x * x for x in z) / len(z))
    assert 0.7 <= rms <= 1.2
    assert sum(abs(x) > 3.0 for x in z) <= 1


def test_a_counted_link_is_not_moved_by_marks() -> None:
    rig = Rig(make_show(2, minutes=5.0, lit=False))
    rig.start(60.0, light=False)
    _pair(rig, 0.0, 80.0, PATH_FR, (0.0, 1.0))
    _pair(rig, 50.0, 100.0, PATH_FR, (0.0, 1.0))
    assert _link(rig).drift_fr == pytest.approx(0.0, abs=0.05)
    assert [x for x in rig.of(AlarmLine) if x.code == "blind"] == []


def test_a_start_that_nobody_heard_is_as_unsure_after_a_pair_of_marks_as_the_pair_leaves_it() -> None:
    rig = _rig(tolerance=0.0)
    rig.start(60.0, light=False)
    rig.silent = [("a2", 58.0, 62.0)]
    rig.go(90.0)
    before = _link(rig).sigma_fr
    assert before is not None
    assert before > 20.0  # [C] uniform in the 4 s in which it was not heard: 24 · 4 / √12 = 27.7 frames
    _pair(rig, 100.0, 91.0, PATH_FR)
    line = _link(rig)
    assert line.sigma_fr is not None
    assert line.drift_fr == pytest.approx(rig.drift(0, rig.t), abs=2.0 * line.sigma_fr)
    # [C] two keys of a person and the survey's error on one reading of it: √(2 · (0.25 · 24)² + (0.01 · 200)²) = 8.7 frames.
    assert 6.0 < line.sigma_fr < 8.8


def test_a_pair_that_ends_while_the_other_machine_is_not_heard_makes_nothing_sure() -> None:
    rig = _rig(tolerance=0.0)
    rig.start(60.0, light=False)
    rig.silent = [("a2", 58.0, 62.0), ("a1", 93.0, 103.0)]
    rig.go(90.0)
    before = _link(rig).sigma_fr
    _pair(rig, 100.0, 91.0, PATH_FR)
    assert _link(rig).drift_fr is None
    rig.go(110.0)
    assert _link(rig).sigma_fr == before
