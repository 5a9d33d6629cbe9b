"""A few dozen shows of the campaign with every run of the suite; ten thousand with ``make campaign``."""

from __future__ import annotations

import pytest

from tests.campaign.again import findings_again
from tests.campaign.drive import run
from tests.campaign.oracle import Oracle

KEPT: tuple[int, ...] = (2, 51, 61, 2272, 2774, 2974, 3030, 3231)
"""Seeds that once found something: an arm between unlike limits or at its stop, a machine pulled to a stop faster than
it coasts, a silence after which a machine may be anywhere."""


@pytest.mark.parametrize("seed", [*range(100, 124), *KEPT])
def test_nothing_false_is_said_of_a_simulated_show_and_nothing_true_is_missed(seed: int) -> None:
    assert list(Oracle(run(seed)).findings()) == []


@pytest.mark.parametrize("seed", [200, 201, 202, 203])
def test_a_show_folded_again_from_its_record_with_ticks_thrown_in_says_the_same_to_the_last_digit(
    seed: int,
) -> None:
    assert list(findings_again(run(seed))) == []


def test_a_seed_is_the_same_show_again() -> None:
    assert run(300).digest() == run(300).digest()
