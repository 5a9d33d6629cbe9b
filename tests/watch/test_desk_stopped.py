"""While all stands, and after it: what is said is what is left to do, and no cue comes nearer than its film."""

from __future__ import annotations

from rig import Rig, make_show

from interlock.watch.state import CueLine


def _texts(rig: Rig) -> dict[tuple[str, str], str]:
    return {(a.code, a.subject): a.text for a in rig.desk.state().alarms}


def _tripped() -> Rig:
    """House 2 has stopped at 80 s, the others run on."""
    rig = Rig(make_show(3, minutes=5.0))
    rig.start(60.0)
    rig.truth[1].spans = [(60.0, 80.0)]
    rig.go(80.5)
    assert _texts(rig)["run-lost", "2"].startswith("Stop all")
    return rig


def test_who_has_stopped_all_is_told_to_stop_all_for_as_long_as_a_machine_still_turns() -> None:
    rig = _tripped()
    rig.do("stop-all")
    rig.go(81.0)
    assert rig.desk.state().phase == "stopped"
    assert _texts(rig)["run-lost", "2"].startswith("Stop all")


def test_once_all_machines_stand_the_alarms_say_what_is_to_do_before_the_restart() -> None:
    rig = _tripped()
    rig.go(81.8)
    rig.do("stop-all")
    for k in (0, 2):
        rig.truth[k].spans = [(60.0, 82.0)]
    rig.go(84.0)
    texts = _texts(rig)
    assert texts["run-lost", "2"] == "Find out why 2 stopped; relace its loops before the restart."
    assert texts["slack-critical", "1>2"] == "Relace the loop 1>2 before the restart."
    assert not any("Stop all" in text for text in texts.values())
    rig.do("restart")
    for truth in rig.truth:
        truth.spans.append((90.0, 1e9))
    rig.go(90.5)
    assert _texts(rig)["slack-critical", "1>2"].startswith("Hand on the stop")


def test_no_cue_comes_due_by_the_clock_in_a_house_that_still_stands_after_the_restart() -> None:
    rig = Rig(make_show(2, minutes=5.0))
    rig.start(60.0, light=False)
    rig.go(64.0)
    rig.do("stop-all")
    for truth in rig.truth:
        truth.spans = [(60.0, 65.0)]
    rig.go(70.0)
    rig.do("restart")
    rig.truth[0].spans.append((72.0, 1e9))
    lines = len(rig.lines)
    rig.go(130.0)
    asked = [(x.house, x.cue, x.state) for x in rig.of(CueLine, lines) if x.state != "coming"]
    assert ("1", "strike-lamp", "due") in asked, "its film comes"
    assert not [x for x in asked if x[0] == "2"], "its film does not move"
    rig.truth[1].spans.append((132.0, 1e9))
    rig.go(150.0)
    assert ("2", "strike-lamp", "due") in [(x.house, x.cue, x.state) for x in rig.of(CueLine, lines)]
