"""The counter's part of a machine: what each count says of its position, and when it begins to contradict the contact."""

from __future__ import annotations

import math

from interlock.watch.motion import BACK_S, PULSE_SIGMA_FR
from interlock.watch.sensed import Sensed
from interlock.watch.signal import SETTLED_S, SETTLING_SIGMA_S

COUNT_GRACE_S = 0.3
"""A pulse that is overdue by this, beyond ramp or coast, puts the position in doubt."""
CONTACT_WITHIN_S = 0.5
"""An adapter that is back says its contacts within a fifth of a second (wire.md); a line may be lost."""
HAND_SHARE = 0.25
"""Film passed by hand on a standing machine is slower than this share of its speed."""
RESTART_SIGMA_FR = 0.6
"""What the first pulse after an adapter's restart leaves open: a frame's phase, and the gap."""


class Counted(Sensed):
    """The counts folded into its motion."""

    __slots__ = ()

    def ticks_on(self, fact_s: float, frames: float, pulse_s: float | None) -> bool:
        """Fold a count as :meth:`count` does if all is as at the last one: known, turning, one pulse after the other.

        It is what a desk hears nearly always, and nothing but the position changes by it. False: nothing was done.
        """
        c = self.counter
        if frames == c.last_fr and (self._rests(fact_s) if self.tracking else self._threads(fact_s, pulse_s)):
            c.fact_s = fact_s
            return True
        if (
            pulse_s is None
            or not c.known
            or not self.run.known
            or self.run.value is not True
            or self.doubt_since_s is not None
            or c.anchor_anew
            or frames <= c.last_fr
            or fact_s < c.fact_s
            or not self.tracking
            or pulse_s < c.settled_s
            or c.unsettled
        ):
            return False
        c.fact_s = fact_s
        self.motion.pulse(pulse_s, frames - c.base_fr)
        c.last_pulse_s = pulse_s
        c.last_fr = frames
        return True

    def count(self, fact_s: float, frames: float, pulse_s: float | None) -> None:
        """The counter stood at ``frames`` at ``fact_s``; its latest pulse was at ``pulse_s``."""
        c = self.counter
        if fact_s < c.fact_s:
            return  # older than the newest of its signal: recorded, not applied
        c.fact_s = fact_s
        fresh, back = frames != c.last_fr, frames < c.last_fr
        c.anchor_anew = c.anchor_anew or back
        if not c.known or back:
            self._heard_again(fact_s)
        if c.anchor_anew and self._stands():
            # Standing, it is where it was: whatever the counter shows is that.
            c.base_fr = frames - self.motion.at(fact_s)[0]
            self.bias_var += c.frames_per_pulse**2 / 12.0
            c.anchor_anew = False
            c.last_fr = frames
            c.last_pulse_s = pulse_s if pulse_s is not None else fact_s
            return
        if c.anchor_anew:
            if pulse_s is None or frames == 0.0:
                c.last_fr = frames
                if c.last_pulse_s == -math.inf:
                    c.last_pulse_s = fact_s  # a pulse is due from now on, not from before the gap
                self._overdue(fact_s)
                return
            x, _, var = self.motion.at(pulse_s)
            c.base_fr = frames - x
            self.bias_var += var + RESTART_SIGMA_FR**2
            self.motion.doubt_speed(pulse_s)
            c.anchor_anew = False
            fresh = True
        if not self.tracking:
            c.last_fr = c.base_fr = frames
            c.last_pulse_s = pulse_s if pulse_s is not None else c.last_pulse_s
            return
        if fresh and pulse_s is not None:
            self._pulse(frames, pulse_s)
        else:
            self._no_pulse(fact_s, frames)
        c.last_fr = frames

    def _rests(self, fact_s: float) -> bool:
        """It has stood for a while, as at its last count, where that says, and nobody has touched it."""
        c = self.counter
        p = self.motion.profile
        return (
            self.tracking
            and p.v1 == 0.0
            and p.settled_s < c.fact_s <= fact_s
            and c.known
            and c.hand_from_fr is None
            and self.doubt_since_s is None
            and not c.anchor_anew
            and abs((at := self.motion.at(fact_s))[0] - (c.last_fr - c.base_fr)) <= c.frames_per_pulse
            and at[2] <= c.frames_per_pulse**2 / 6.0
        )

    def _threads(self, fact_s: float, pulse_s: float | None) -> bool:
        """Nobody has armed the desk yet, and nothing has moved since its last count."""
        c = self.counter
        return (
            c.known
            and c.fact_s <= fact_s
            and c.base_fr == c.last_fr
            and not c.anchor_anew
            and (pulse_s is None or pulse_s == c.last_pulse_s)
        )

    def _pulse(self, frames: float, pulse_s: float) -> None:
        c = self.counter
        m = self.motion
        if self._said_to_stand() and pulse_s > self._still_s():
            # The contact says that the motor stands. Film passed by hand, or the word of a start that is late:
            # which, the next contact line tells. Until then nothing is applied.
            if c.hand_from_fr is None:
                c.hand_from_fr = c.last_fr
                c.hand_first_fr = frames
                c.hand_since_s = pulse_s
            passed_fr = frames - c.hand_from_fr
            if passed_fr >= 3.0 and passed_fr > HAND_SHARE * m.fps * (pulse_s - c.hand_since_s):
                self.doubt_since_s = self.doubt_since_s or c.hand_since_s
        else:
            if not self.run.wired and m.profile.v1 == 0.0:
                lead_s = math.sqrt(2.0 * m.ramp_s * max(0.0, frames - c.last_fr) / m.fps) if m.ramp_s else 0.0
                m.edge(max(pulse_s - lead_s, m.tf_s), True)
                self.start_s = m.profile.t0_s
                self.stop_s = None
                self.ran = True
            if m.profile.v1 == 0.0 and m.tf_s - pulse_s > BACK_S:
                # It stopped while its adapter was silent: the contact's date is a guess, the counter stands where it stands.
                m.rests_at(frames - c.base_fr, 0.5 * c.frames_per_pulse)
            else:
                m.pulse(pulse_s, frames - c.base_fr, self._dated_within_fr(pulse_s))
            self.lose_track(pulse_s)
            self.doubt_since_s = None
            c.hand_from_fr = None
        c.last_pulse_s = pulse_s

    def _said_to_stand(self) -> bool:
        """Whether its contact says so; or said so last, and its adapter has only just come back with its counts first."""
        if not self.run.wired or self.run.now is True:
            return False
        c = self.counter
        return self.run.now is False or (
            self.motion.profile.v1 == 0.0 and c.settled_s <= c.fact_s < c.settled_s + CONTACT_WITHIN_S
        )

    def _heard_again(self, fact_s: float) -> None:
        """Its supply may have shifted meanwhile; and one that began anew has yet to tell how long its lines are on their way."""
        c = self.counter
        c.known = True
        c.settled_s = fact_s + (SETTLED_S if c.anchor_anew else 0.0)
        c.unsettled = self.motion.profile.v1 > 0.0

    def _dated_within_fr(self, pulse_s: float) -> float:
        """1-sigma of a pulse's date, in frames; with the first that is sure the speed is found anew."""
        c, settling_fr = self.counter, SETTLING_SIGMA_S * self.motion.fps
        if pulse_s < c.settled_s:
            c.unsettled = True
            return settling_fr
        if c.unsettled:
            c.unsettled = False
            self.motion.doubt_speed(pulse_s, settling_fr)
        return PULSE_SIGMA_FR

    def _no_pulse(self, fact_s: float, frames: float) -> None:
        c = self.counter
        if c.hand_from_fr is not None:
            if fact_s - c.last_pulse_s > 0.5 and self.run.now is False and self.run.fact_s >= c.last_pulse_s:
                c.base_fr += frames - c.hand_from_fr
                c.hand_from_fr = None
                self.doubt_since_s = None
            return
        self._bound(fact_s, frames)
        self._overdue(fact_s)

    def _bound(self, fact_s: float, frames: float) -> None:
        # No new pulse is a measurement too: it has passed the last one, and has not come as far as the next.
        if self.doubt_since_s is not None:
            return
        m, pulse_fr = self.motion, self.counter.frames_per_pulse
        x, _, var = m.at(fact_s)
        least = frames - self.counter.base_fr
        if x > least + pulse_fr:
            m.pulse(fact_s, least + pulse_fr, 0.3 * pulse_fr)
        elif x < least - pulse_fr:
            m.pulse(fact_s, least, 0.3 * pulse_fr)
        elif m.profile.v1 == 0.0 and var > pulse_fr**2 / 6.0 and fact_s > self._still_s():
            # However it coasted, or was pulled to a stop: it has come to rest between its last pulse and the next, and so has
            # what is believed of it. Two places within a pulse are a sixth of its square apart. It is moved no further than
            # that asks, for an arm may have measured the loop meanwhile.
            m.pulse(fact_s, min(max(x, least), least + pulse_fr), pulse_fr / math.sqrt(6.0))

    def _overdue(self, fact_s: float) -> None:
        c = self.counter
        m = self.motion
        if not self.tracking or m.profile.v1 == 0.0 or self.turning is not True:
            return
        pulse_every_s = c.frames_per_pulse / m.fps
        last_s = max(c.last_pulse_s, m.profile.steady_s)
        if fact_s - last_s <= COUNT_GRACE_S + 2.0 * pulse_every_s:
            return
        if self.run.wired:
            self.doubt_since_s = self.doubt_since_s or last_s
        else:
            m.halt(c.last_pulse_s)
            self.stop_s = c.last_pulse_s
