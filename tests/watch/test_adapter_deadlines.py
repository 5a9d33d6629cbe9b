"""An adapter is stale 750 ms after its last word and lost after 2 s [P: contract.md], whatever its silences were before."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rig import WALL0_S, make_show

from interlock.signals import Presence
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor, Tick
from interlock.watch.state import AdapterLine, Line

STALE_S, LOST_S = 0.75, 2.0


def _silences(words_s: list[float], until_s: float) -> list[tuple[str, float]]:
    """What is due by the contract for one adapter with words at these desk seconds, the first being its first of all."""
    due = [("up", words_s[0])] if words_s[0] < STALE_S else [("stale", STALE_S), ("up", words_s[0])]
    for word_s, next_s in zip(words_s, [*words_s[1:], until_s], strict=True):
        due += [(s, word_s + d) for s, d in (("stale", STALE_S), ("lost", LOST_S)) if word_s + d < next_s]
        if next_s - word_s > STALE_S and next_s < until_s:
            due.append(("up", next_s))
    return due


@given(gaps_ms=st.lists(st.integers(50, 3000).filter(lambda g: g not in (750, 2000)), min_size=1, max_size=8))
def test_every_silence_is_told_when_it_has_lasted_however_short_the_word_before_it(
    gaps_ms: list[int],
) -> None:
    desk = Desk(make_show(2), Anchor(0.0, WALL0_S), rehearsal=True)
    words_ms, t_ms = [100], 100
    for gap_ms in gaps_ms:
        t_ms += gap_ms
        words_ms.append(t_ms)
    until_s = t_ms / 1000 + 3.0
    inputs = [(ms / 1000, "a1") for ms in words_ms] + [(n / 4, "a2") for n in range(int(until_s * 4))]
    lines: list[Line] = []
    for at_s, name in sorted(inputs):
        lines += desk.step(Presence(at_s, at_s, name, "up"))
    lines += desk.step(Tick(until_s))
    said = [
        (x.state, datetime.fromisoformat(x.at).timestamp() - WALL0_S)
        for x in lines
        if isinstance(x, AdapterLine) and x.adapter == "a1" and not x.periodic
    ]
    due = _silences([ms / 1000 for ms in words_ms], until_s)
    assert [s for s, _ in said] == [s for s, _ in due]
    assert [t for _, t in said] == pytest.approx([t for _, t in due], abs=0.002)
