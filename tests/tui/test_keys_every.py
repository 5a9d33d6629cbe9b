"""Every key of every binding, pressed on every screen of the running program.

What it must do stands in a table: a binding without an entry in it fails here, so that no key comes without a test.
"""

from __future__ import annotations

import pytest
from screen_running import Running, running
from test_review_screen import reviewing
from textual.widgets import Input

from interlock.watch.state import OperatorLine
from tui.keys import KEYS, REVIEW_KEYS, Key
from tui.panel import Panel
from tui.screens import NAMES

ASKS = {
    "note": "Note", "mark": "Mark house", "rezero": "was measured", "relace": "passed by hand", "parted": "is apart?",
    "dark": "No picture wanted", "arm": "Disarm?", "stop_all": "All is being stopped?", "restart": "The show goes on?",
    "handover": "Hand over", "who": "Who I am", "speed": "Speed of the rehearsal", "leave": "Leave this screen?",
    "shelve": "Shelve lamp out",
}  # fmt: skip
SENDS = {
    "silence": {"action": "silence"},
    "ack": {"action": "ack", "subject": "4", "code": "lamp-out"},
    "reset": {"action": "reset", "subject": "4", "code": "lamp-out"},
    "reset_group": {"action": "reset", "group": 39_200},
}
"""On the picked alarm: the second of the list, the lamp of house 4, at the head of a fold."""


async def begin(r: Running, screen: str, action: str) -> None:
    """As if nothing had been pressed: house 3 is picked, the second alarm, the first line of a text."""
    app = r.app
    app.query_one(Panel).close()
    app.query_one("#filter", Input).value = ""
    app.action_show(screen)
    await r.settle()
    app.house, app.alarm, app.opened = 1, ("lamp-out", "4"), frozenset()
    app.own["cues"].cue, app.own["faults"].fault = None, int(action == "move(-1)")
    app.own["help"].scroll = app.own["record"].scroll = 1
    r.source.sent.clear()
    r.clock.now += 10.0  # what was said is gone, what is on the screen has been read
    app.model.heard_s = r.clock.now
    app.tick()


def places(r: Running) -> dict[str, object]:
    """What the keys for moving move, by screen."""
    own = r.app.own
    house = r.app.house
    return {
        "alarms": r.app.alarm, "cues": own["cues"].cue, "faults": own["faults"].fault, "help": own["help"].scroll,
        "record": own["record"].scroll, "board": house, "house": house,
    }  # fmt: skip


def did(r: Running, key: Key, screen: str, before: dict[str, object], look: str) -> bool:
    """Whether the key has done what its row of the table says."""
    action = key.action
    if action.startswith("show("):
        return f"show('{r.app.screen_name}')" == action
    if action.startswith("move("):
        return places(r)[screen] != before[screen]
    if action.startswith("alarm("):
        return r.app.alarm != before["alarms"]
    if action == "look":
        return r.app.look != look
    if action == "open":
        return r.app.opened == {"code lamp-out"} and r.app.screen_name == "alarms"
    if action == "throw":
        sent = r.sent()
        return bool(sent and sent[0]["action"] == "fault") is (screen == "faults")
    if action in SENDS:
        return r.sent() == [SENDS[action]]
    return r.asking and ASKS[action] in str(r.app.query_one("#ask-title").render())


@pytest.mark.parametrize("screen", NAMES)
async def test_every_key_does_what_its_row_says_on_every_screen(screen: str) -> None:
    async with running("power-dip", rehearsal=True, size=(80, 24)) as r:
        r.app.model.log.extend(
            OperatorLine(seq=n, at="", show_s=float(n), action="note", keys={"text": "x"}) for n in range(60)
        )
        for key in KEYS:
            for name in key.keys.split(","):
                await begin(r, screen, key.action)
                before, look = places(r), r.app.look
                await r.press(name)
                if screen == "record" and (len(name) == 1 or name == "enter"):
                    typed = r.app.query_one("#filter", Input).value
                    assert typed == ("" if name == "enter" else name), "there letters are what one looks for"
                    assert r.sent() == []
                    continue
                assert did(r, key, screen, before, look), (name, key.action, r.sent(), r.text("message"))
                assert r.app.return_value is None


async def test_every_key_of_a_review_does_what_its_row_says() -> None:
    moves = ("play", "pace", "step", "mark", "go_to")
    async with reviewing() as (r, app):
        for key in REVIEW_KEYS:
            for name in key.keys.split(","):
                app.query_one(Panel).close()
                app.action_show("help" if key.action == "show('board')" else "board")
                app.playing, app.speed, app.house, app.look = False, 1.0, 1, "booth"
                app.jump(1050.0)
                app.alarm = ("slack-lost", "2>1")
                await r.settle()
                before = (app.t_s, app.speed, app.playing, app.house, app.alarm, app.look, app.screen_name)
                if name in ("q", "f10"):
                    continue  # leaves: tested by itself, for it ends the program
                await r.press(name)
                after = (app.t_s, app.speed, app.playing, app.house, app.alarm, app.look, app.screen_name)
                kind = key.action.split("(")[0]
                if kind == "refuse":
                    assert after == before, (name, "changed what a record shows")
                    assert "REVIEW: nothing was done" in r.text("message")
                elif kind == "go":
                    assert r.asking
                else:
                    assert kind in (*moves, "show", "look", "move", "alarm"), f"{key.action} has no test here"
                    assert after != before, (name, key.action)
