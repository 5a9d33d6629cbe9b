"""One sentence for one event."""

from __future__ import annotations

import pytest

from interlock.sentences import sentence, timed, when
from interlock.watch.state import (
    AdapterLine,
    AlarmLine,
    CueLine,
    ErrorLine,
    HouseLine,
    Line,
    LinkLine,
    OperatorLine,
    ShowLine,
)

AT = {"seq": 1, "at": "2026-12-05T19:24:30.125Z"}
HOUSE = {
    "house": "4", "phase": "picture", "run": True, "lamp": True, "dowser": False, "film": None, "frame": 1.0,
    "expected_frame": 1.0, "sigma_fr": 1.0, "speed_fps": 24.0, "part": "one", "dark": False,
}  # fmt: skip
LINK = {
    "link": "4>3", "state": "running", "drift_fr": -3.25, "sigma_fr": 0.1, "toward": "tight", "used": 0.1,
    "left_fr": 44.0, "rate_fps": 0.0, "to_limit_s": None,
}  # fmt: skip
ALARM = {
    "code": "run-lost", "subject": "3", "priority": "high", "first_out": True, "group": 7, "text": "Stop all.",
    "values": {},
}  # fmt: skip


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (
            ShowLine(**AT, show_s=0.0, phase="starting", title="Lantern"),
            "Lantern: the first motor turns: show zero",
        ),
        (
            HouseLine(**AT, show_s=1.0, **HOUSE),
            "house 4: picture; turns, lamp lit, dowser shut, film unknown; one",
        ),
        (
            HouseLine(**AT, show_s=1.0, **{**HOUSE, "part": None, "dark": True}),
            "house 4: picture; turns, lamp lit, dowser shut, film unknown, dark",
        ),
        (LinkLine(**AT, show_s=1.0, **LINK), "link 4>3: running, drift -3.2 frames"),
        (LinkLine(**AT, show_s=1.0, **{**LINK, "drift_fr": None}), "link 4>3: running, drift unknown"),
        (
            AlarmLine(**AT, show_s=1.0, **ALARM, state="unacknowledged"),
            "high alarm run-lost on 3 (first-out): Stop all.",
        ),
        (
            AlarmLine(**AT, show_s=1.0, **ALARM, state="latched-acknowledged"),
            "high alarm run-lost on 3: gone, held until reset",
        ),
        (
            CueLine(**AT, show_s=1.0, house="4", cue="strike-lamp", due_s=9.0, state="due"),
            "house 4: strike the lamp (due)",
        ),
        (
            AdapterLine(**AT, show_s=1.0, adapter="north", state="lost", lines=1, bad_lines=0, lost_lines=0),
            "adapter north is lost",
        ),
        (
            OperatorLine(
                **AT, show_s=1.0, action="mark", keys={"house": "4", "frame": 0.0}, by="Ilse", booth="north"
            ),
            "Ilse (north): marked frame 0 in the gate of house 4",
        ),
        (
            OperatorLine(**AT, show_s=1.0, action="arm", refused="the show is running"),
            "somebody: REFUSED: arm: the show is running",
        ),
        (
            OperatorLine(**AT, show_s=1.0, action="ack", keys={"subject": "4>3", "code": "slack-lost"}),
            "somebody: acknowledged slack lost 4>3",
        ),
        (
            OperatorLine(**AT, show_s=1.0, action="stop-all", by="Ilse"),
            "Ilse: said that all is being stopped",
        ),
        (
            OperatorLine(**AT, show_s=1.0, action="speed", keys={"x": 30.0}),
            "somebody: set the rehearsal to x30",
        ),
        (
            OperatorLine(**AT, show_s=1.0, action="fault", keys={"fault": '{"kind":"lamp-out","house":"4"}'}),
            "somebody: threw a fault: lamp out, house 4",
        ),
        (
            OperatorLine(**AT, show_s=1.0, action="fault", keys={"fault": "not JSON"}),
            "somebody: threw a fault: not JSON",
        ),
        (OperatorLine(**AT, show_s=1.0, action="note", keys={"text": "hot"}), "somebody: note: hot"),
        (ErrorLine(**AT, show_s=1.0, text="not JSON"), "not understood: not JSON"),
    ],
)
def test_each_kind_of_line_has_its_sentence(line: Line, words: str) -> None:
    assert sentence(line) == words
    assert timed(line) == f"{when(line)}  {words}"


def test_figures_once_a_second_are_no_events() -> None:
    for line in (
        HouseLine(**AT, show_s=1.0, **HOUSE, periodic=True),
        LinkLine(**AT, show_s=1.0, **LINK, periodic=True),
        CueLine(**AT, show_s=1.0, house="4", cue="strike-lamp", due_s=9.0, state="coming"),
    ):
        assert sentence(line) is None
        assert timed(line) is None


@pytest.mark.parametrize(
    ("show_s", "words"),
    [
        (None, "19:24:30Z"), (0.0, "0:00:00.0"), (750.44, "0:12:30.4"), (3599.96, "1:00:00.0"), (-1.5, "-0:00:01.5"),
    ],
)  # fmt: skip
def test_time_is_of_the_show_once_there_is_one(show_s: float | None, words: str) -> None:
    assert when(ShowLine(**AT, show_s=show_s, phase="armed", title="x")) == words
