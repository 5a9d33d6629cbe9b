"""The fewest stretches, against trying every choice of stations."""

from __future__ import annotations

from itertools import combinations, pairwise

from hypothesis import given
from hypothesis import strategies as st

from interlock.plan.threading_pull import Step
from interlock.plan.threading_stretches import Path, count_stretches, fewest_stretches

STEPS = st.lists(
    st.builds(
        Step,
        kind=st.just("roller"),
        link=st.just("1>2"),
        at_fr=st.just(0.0),
        gain=st.floats(1.0, 2.0),
        adds_n=st.floats(0.0, 2.0),
    ),
    max_size=4,
).map(tuple)


@st.composite
def paths(draw: st.DrawFn) -> Path:
    gaps = draw(st.lists(STEPS, min_size=1, max_size=8))
    passing = [(), *draw(st.lists(STEPS, min_size=len(gaps) - 1, max_size=len(gaps) - 1))]
    return Path(tuple(gaps), tuple(passing), draw(st.floats(0.0, 2.0)))


def every_way(path: Path) -> list[list[tuple[int, int]]]:
    """All ways to cut the path at its stations."""
    n = len(path.gaps)
    ways = []
    for count in range(n):
        for cuts in combinations(range(1, n), count):
            ends = [0, *cuts, n]
            ways.append(list(pairwise(ends)))
    return ways


def allowed(path: Path, way: list[tuple[int, int]], limit_n: float) -> bool:
    """Under the limit, but for single gaps that no way keeps under it."""
    return all(b - a == 1 or path.pull_n(a, b) <= limit_n for a, b in way)


@given(paths(), st.floats(0.5, 30))
def test_there_are_as_few_stretches_as_brute_force_finds(path: Path, limit_n: float) -> None:
    found = fewest_stretches(path, limit_n)
    assert len(found) == min(len(way) for way in every_way(path) if allowed(path, way, limit_n))
    assert allowed(path, found, limit_n)
    assert len(found) == count_stretches(path, limit_n)


@given(paths(), st.floats(0.5, 30))
def test_the_hardest_pull_is_the_least_that_so_few_stretches_can_have(path: Path, limit_n: float) -> None:
    def hardest(way: list[tuple[int, int]]) -> float:
        return max((p for a, b in way if (p := path.pull_n(a, b)) <= limit_n), default=0.0)

    found = fewest_stretches(path, limit_n)
    alike = [w for w in every_way(path) if allowed(path, w, limit_n) and len(w) == len(found)]
    assert hardest(found) == min(map(hardest, alike))


@given(paths(), st.floats(0.5, 30))
def test_the_stretches_cover_the_path_end_to_end(path: Path, limit_n: float) -> None:
    found = fewest_stretches(path, limit_n)
    assert found[0][0] == 0
    assert found[-1][1] == len(path.gaps)
    assert all(a[1] == b[0] for a, b in pairwise(found))


@given(paths(), st.floats(0.5, 30), st.floats(0, 10))
def test_a_higher_limit_never_takes_more_stretches(path: Path, limit_n: float, more_n: float) -> None:
    assert count_stretches(path, limit_n + more_n) <= count_stretches(path, limit_n)


def test_a_gap_over_the_limit_is_a_stretch_by_itself() -> None:
    light, heavy = (Step("roller", "1>2", 0.0, adds_n=1.0),), (Step("roller", "2>3", 0.0, adds_n=50.0),)
    path = Path((light, light, heavy, light, light), ((),) * 5, 1.0)
    assert fewest_stretches(path, 22.0) == [(0, 2), (2, 3), (3, 5)]
    assert count_stretches(path, 22.0) == 3
