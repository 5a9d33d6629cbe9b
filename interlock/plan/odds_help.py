"""What would help a start most: which house's timer, which link's loop; each as the odds before and after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from interlock.plan.odds_start import chain_of
from interlock.showfile.show import Show

MORE_LOOP_S = 1.0


@dataclass(frozen=True, slots=True)
class Help:
    """One thing that could be changed. ``subject``: the house whose timer gets half its scatter (then
    ``now_s`` is the scatter and ``then_s`` half of it), or the link whose loop gets a second more either way
    (``now_s`` is the nearer limit). ``before`` and ``after``: the odds that the start holds."""

    kind: Literal["timer", "loop"]
    subject: str
    now_s: float
    then_s: float
    before: float
    after: float

    @property
    def gain(self) -> float:
        """Odds won; below nothing where the change would do harm (possible only with lopsided limits)."""
        return self.after - self.before

    def sentence(self, names: dict[str, str]) -> str:
        """For people. ``names``: house id to what it is called."""
        if self.kind == "timer":
            return (
                f"start timer of {names.get(self.subject, self.subject)} from {self.now_s:.2f} s "
                f"to {self.then_s:.2f} s of scatter"
            )
        return (
            f"loop {self.subject} longer by {self.then_s - self.now_s:.1f} s either way "
            f"(nearer limit {self.now_s:.1f} s to {self.then_s:.1f} s)"
        )


def helps(show: Show) -> tuple[Help, ...]:
    """Every timer and every loop, the best first; equal ones in film order, timers before loops."""
    chain = chain_of(show)
    before = chain.holds()
    found = [
        Help(
            "timer",
            house.id,
            house.start_scatter_s,
            house.start_scatter_s / 2.0,
            before,
            chain.with_scatter(k, house.start_scatter_s / 2.0).holds(),
        )
        for k, house in enumerate(show.houses)
        if house.start_scatter_s > 0.0 and len(show.houses) > 1
    ]
    for k, link in enumerate(show.links):
        now_s = min(link.tight_fr, link.spill_fr) / show.fps
        after = chain.with_loop(k, MORE_LOOP_S).holds()
        found.append(Help("loop", link.id, now_s, now_s + MORE_LOOP_S, before, after))
    # Alike within a ten-thousandth of what can be lost is alike: film order reads better than the last bits.
    grain = 1e-4 * max(1.0 - before, 1e-9)
    return tuple(sorted(found, key=lambda h: -round(h.gain / grain)))
