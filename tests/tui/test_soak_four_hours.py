"""The soak that ``make soak`` runs, as a test: figures and their criterion are in :mod:`tests.tui.soak`."""

from __future__ import annotations

import pytest

from tests.tui.soak import DESK_MB, GROWTH_MB_H, HOURS, SPEED, Memory, soak


def test_growth_is_that_of_the_samples_after_the_first_ten_minutes() -> None:
    """What is taken while everything is begun is not counted; a leak of 2 MB an hour from then on is seen as such."""
    show_s = [60.0 * n for n in range(240)]
    own_mb = [20.0 + 2.0 * s / 3600.0 + (5.0 if s < 600.0 else 10.0) for s in show_s]
    assert Memory("screen", 0, show_s, own_mb, own_mb).growth_mb_h() == pytest.approx(2.0)


@pytest.mark.long
def test_memory_of_screen_and_desk_is_flat_over_four_hours_of_sixteen_houses() -> None:
    """After the first ten minutes of the show neither grows by 1 MB an hour, and the desk stays under 100 MB."""
    desk, screen, _ = soak(HOURS, SPEED)
    assert desk.show_s[-1] > 3.9 * 3600.0, "a busy computer: it did not get through the show"
    assert desk.growth_mb_h() < GROWTH_MB_H, desk
    assert screen.growth_mb_h() < GROWTH_MB_H, screen
    assert max(desk.all_mb) < DESK_MB, desk
