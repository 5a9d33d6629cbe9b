"""Acknowledge, shelve, reset: what is done about an alarm."""

from __future__ import annotations

from interlock.done import ALARM_STATES, alarm_words
from interlock.watch.state import AlarmLine
from tui.acting import Acting, number
from tui.draw.folds import in_order
from tui.draw.view import ASIDE, ASKING, AlarmKey, alarm_title, key_of
from tui.panel import Field, Question

JUST_NOW_S = 0.4
"""An alarm that has been on the screen for less is not acknowledged by a key that was meant for another."""


class AlarmActs(Acting):
    """Actions on the picked alarm, or else on the worst."""

    def picked(self, *, asking: bool) -> AlarmLine | None:
        """The picked alarm; without one the worst (that still asks)."""
        state = self.app.model.newest()
        alarms = [] if state is None else in_order(state.alarms)
        for a in alarms:
            if key_of(a) == self.app.alarm:
                return a
        return next((a for a in alarms if a.state in ASKING or not asking), None)

    def ack(self) -> None:
        """Acknowledge."""
        a = self.picked(asking=True)
        if a is None:
            self.app.say("nothing to acknowledge")
        elif a.state in ASIDE:
            self.app.say(f"{self.name(a)} is {ALARM_STATES.get(a.state, a.state)}: nothing to acknowledge")
        elif a.state not in ASKING:
            self.app.say(f"{self.name(a)} is acknowledged already")
        elif self.app.since_seen_s(key_of(a)) < JUST_NOW_S:
            self.app.say(f"{self.name(a)} has just come in: read it, then press a again")
        else:
            self.on_alarm("ack", a)
            self.app.say(f"acknowledged: {self.name(a)}")

    def reset(self) -> None:
        """Reset what is gone but held."""
        state = self.app.model.newest()
        held = [
            a for a in ([] if state is None else in_order(state.alarms)) if a.state == "latched-acknowledged"
        ]
        a = next((a for a in held if key_of(a) == self.app.alarm), held[0] if held else None)
        picked = self.picked(asking=False)
        if self.app.alarm is not None and picked is not None and key_of(picked) == self.app.alarm:
            a = picked
        if a is None:
            self.app.say("nothing to reset: an alarm is held only once it is gone and acknowledged")
        else:
            self.on_alarm("reset", a)
            self.app.say(f"reset: {self.name(a)}")

    def reset_group(self) -> None:
        """First-out reset."""
        a = self.picked(asking=False)
        if a is None or a.group is None:
            self.app.say("no first-out to reset")
            return
        self.app.send("reset", group=a.group)
        self.app.say(f"first-out reset: {self.name(a)}")

    def shelve(self) -> None:
        """Shelve with an end, or take back."""
        a = self.picked(asking=False)
        if a is None:
            self.app.say("no alarm to shelve")
            return
        if a.state == "shelved":
            self.on_alarm("unshelve", a)
            self.app.say(f"taken back: {self.name(a)}")
            return

        def done(given: list[str]) -> str | None:
            minutes = number(given[0])
            if minutes is None or not 0 < minutes <= 24 * 60:
                return f"{given[0]!r}: expected minutes, more than 0 and at most 1440"
            self.on_alarm("shelve", a, for_s=minutes * 60.0)
            return None

        self.app.ask(Question(
            f"Shelve {self.name(a)}", "It is put aside, its bell too, and comes back by itself.", done,
            fields=(Field("for how many minutes", "10"),),
        ))  # fmt: skip

    def on_alarm(self, action: str, a: AlarmLine, **keys: object) -> None:
        """Send an action on this alarm."""
        self.app.send(action, subject=a.subject, code=a.code, **keys)

    def name(self, a: AlarmLine) -> str:
        """The alarm in words."""
        layout = self.app.model.layout
        return alarm_words(a.code) if layout is None else " ".join(alarm_title(layout, a)).rstrip()


def next_key(alarms: list[AlarmLine], now: AlarmKey | None, by: int) -> AlarmKey | None:
    """The alarm ``by`` places further in the order in which they are drawn; the ends are ends."""
    keys = [key_of(a) for a in alarms]
    if not keys:
        return None
    if now not in keys:
        return keys[0] if by > 0 else keys[-1]
    return keys[max(0, min(len(keys) - 1, keys.index(now) + by))]
