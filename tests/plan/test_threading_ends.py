"""How much leader the whole path takes, and what of it is left for its two ends."""

from __future__ import annotations

import msgspec
import pytest
from odds_shows import a_show

from interlock.plan.threading import plan_threading
from interlock.showfile.show import Link


def test_a_leader_of_2200_ft_over_gates_twenty_minutes_apart_leaves_some_400_ft_for_the_ends() -> None:
    """[CP] gates 20 minutes apart are 1,800 film feet of film; 2,200 ft of leader from feed to take-up leave about
    400 ft for the ends. Same order: within a quarter."""
    between_fr = 20 * 60 * 24 / 15
    show = a_show(16, path_fr=between_fr)
    end_fr = 170 * 16.0  # from a platter to its gate, over the ceiling of a booth
    show = msgspec.structs.replace(
        show, feed=Link("feed", "1", end_fr), take_up=Link("16", "take-up", end_fr)
    )
    assert show.path_fr[-1] / 16 == pytest.approx(1800)
    leader_ft = plan_threading(show).leader_fr / 16
    assert leader_ft == pytest.approx(2200, rel=0.05)
    assert leader_ft - show.path_fr[-1] / 16 == pytest.approx(400, rel=0.25)
