"""What must hold of run-lost and start-late, judged by the simulator's truth."""

from __future__ import annotations

from collections.abc import Iterator

from tests.campaign.beside import ARM_PLAN_S, JUDGED, Beside

ON_WAY_S = 0.05
"""A contact's line may take so long, while the crew's word is heard at once."""


class Runs:
    """The findings of one show."""

    def __init__(self, beside: Beside) -> None:
        self.b = beside

    def findings(self) -> Iterator[str]:
        """Everything that is wrong with them."""
        yield from self._false_run()
        yield from self._missed_stops()
        yield from self._late_starts()

    def _false_run(self) -> Iterator[str]:
        for x in self.b.trips("run-lost", "start-late"):
            if x.subject in self.b.unsure:
                continue
            crossed = x.values["crossed_s"]
            assert isinstance(crossed, float)
            # A stop within an adapter's silence is dated in its middle, one that is first told after words that are missing
            # somewhere since the word before; else the contact dates it to milliseconds.
            near = 15 if x.subject in self.b.losing else 5
            samples = [self.b.plan_s(crossed) + s / 50.0 for s in range(-near, near + 1)]
            if x.show_s is not None and x.show_s - crossed > 0.2:
                samples += [self.b.plan_s(crossed + n / 10.0 * (x.show_s - crossed)) for n in range(-10, 11)]
            if all(self.b.turning(x.subject, t) for t in samples):
                yield f"{x.code} on {x.subject} at show {crossed:.3f} s is false: it was turning all the time"
            if x.code == "run-lost" and not any(
                e.what == "start" and e.subject == x.subject
                for e in self.b.room.log
                if e.at_s < self.b.plan_s(crossed)
            ):
                yield f"run-lost on {x.subject} at show {crossed:.3f} s is false: it had never turned"

    def _missed_stops(self) -> Iterator[str]:
        """A motor that stopped with film still to run has its run-lost, dated by the contact, unless the crew said so."""
        trips = list(self.b.trips("run-lost"))
        for e in self.b.room.log:
            if e.what != "stop" or e.text in ("motor-off", "jog") or e.subject in self.b.unsure:
                continue
            if (
                self.b.zero_plan_s is None
                or e.at_s <= self.b.zero_plan_s
                or self.b.phase_at(e.at_s) not in JUDGED
            ):
                continue
            if self.b.phase_at(e.at_s + ON_WAY_S) not in JUDGED:
                continue  # the crew had said stop-all when the desk heard of it
            if not self.b.turning(e.subject, e.at_s - 0.001):
                continue  # cut already, and pulled tight while it coasted
            k = next(k for k, h in enumerate(self.b.run.show.houses) if h.id == e.subject)
            frame = self.b.room.truth(e.at_s).machines[k].frame
            open_fr = max(
                0.04 * self.b.run.show.first_picture_at_fr[k] + 24.0,
                3.3 * self.b.frame_sigma(e.subject, e.at_s),
            )
            if frame > self.b.run.show.length_fr - open_fr:
                continue  # within what the survey and a start that nobody heard leave open, its film may be through
            if not self.b.heard(e.subject, e.at_s):
                continue
            # An adapter that begins anew at that moment tells of it when it is there again.
            anew = any(
                isinstance(c := x.values["crossed_s"], float) and abs(self.b.plan_s(c) - e.at_s) < 1.0
                for x in self.b.trips("adapter-restarted")
            )
            dated = [x.values["crossed_s"] for x in trips if x.subject == e.subject]
            allow_s = 1.0 if anew else 0.35
            if not any(isinstance(c, float) and abs(self.b.plan_s(c) - e.at_s) < allow_s for c in dated):
                yield f"{e.subject} stopped at plan {e.at_s:.3f} s ({e.text}) and no run-lost says so"

    def _late_starts(self) -> Iterator[str]:
        """A house that stands when a neighbour's start has used half of their link is start-late."""
        said = {x.subject for x in self.b.trips("start-late")}
        first = {
            e.subject: e.at_s for e in reversed(self.b.room.log) if e.what == "start" and e.at_s > ARM_PLAN_S
        }
        for i, link in enumerate(self.b.run.show.links):
            for house, beside, limit_fr in (
                (link.downstream, link.upstream, link.spill_fr), (link.upstream, link.downstream, link.tight_fr),
            ):  # fmt: skip
                if beside not in first or {house, beside} & self.b.unsure or house in said:
                    continue
                due_s = first[beside] + 0.5 * limit_fr / self.b.run.show.fps
                ran = [self.b.turning(beside, first[beside] + s) for s in (0.05, due_s - first[beside])]
                if (
                    not all(ran)
                    or first.get(house, 1e9) < due_s + 0.3
                    or self.b.phase_at(due_s + 0.1) != "starting"
                ):
                    continue
                if (
                    self.b.zero_plan_s is not None
                    and self.b.heard(house, due_s)
                    and not self.b.blind_spell(i, due_s)
                ):
                    yield f"{house} had not started at plan {due_s:.3f} s and no start-late says so"
