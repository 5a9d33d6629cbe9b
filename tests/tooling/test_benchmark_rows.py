"""The table of the benchmarks says what it says: ahead is ahead in any unit, and what is not reached is seen."""

from __future__ import annotations

import ast
import itertools
from pathlib import Path

import msgspec
import pytest

from benchmarks._row import (
    Growth,
    Row,
    beside,
    figure,
    held_back,
    interleaved,
    linearity,
    results_of,
    seen,
    table,
    under,
)

BENCHMARKS = sorted(
    p for p in (Path(__file__).parents[2] / "benchmarks").glob("*.py") if not p.stem.startswith("_")
)


def test_more_rows_a_second_and_fewer_microseconds_are_both_ahead() -> None:
    fast, slow = seen([10.0, 20.0, 30.0]), seen([50.0, 40.0, 30.0])
    time = beside("a", "µs", fast, "peer", slow, at_least=2.0)
    speed = beside("a", "rows/s", fast, "peer", slow, at_least=0.7, more_is_better=True)
    assert (time.ratio, time.reached) == (2.0, True)
    assert (speed.ratio, speed.reached) == (0.5, False)
    assert str(fast) == "20 (10–30)"


def test_a_target_that_is_not_reached_stands_in_the_table_and_is_explained() -> None:
    rows = [under("memory", "MB", seen([120.0]), 100.0, held_back="it keeps everything.")]
    assert "| **no**" in table(rows)
    assert held_back(rows) == ["memory, MB: it keeps everything."]
    assert held_back([under("memory", "MB", seen([100.0]), 100.0)]) == []


def test_rounds_are_taken_turn_about_so_that_a_busy_minute_falls_on_all() -> None:
    order: list[str] = []
    numbers = itertools.count()

    def way(name: str) -> float:
        order.append(name)
        return float(next(numbers))

    found = interleaved({"a": lambda: way("a"), "b": lambda: way("b")}, 3)
    assert order == ["a", "b", "b", "a", "a", "b"]
    assert (found["a"].least, found["a"].median, found["a"].most) == (0.0, 3.0, 4.0)


def test_rows_and_plots_come_through_the_pipe_as_they_were() -> None:
    results: list[Row | Growth] = [
        beside("a", "s", seen([1.0]), "peer", seen([2.0]), at_least=None),
        Growth(
            name="Houses", x="houses", y="ms", lines={"fold": [(2.0, 1.0), (4.0, 2.0)]}, sentence="linear"
        ),
    ]
    assert results_of(msgspec.json.encode(results)) == results


def test_it_is_said_from_where_on_a_cost_grows_faster_than_what_it_grows_with() -> None:
    assert linearity([(1, 1), (2, 2), (4, 4.1)]).startswith("linear")
    assert "faster than linearly from 4 on" in linearity([(1, 1), (2, 2.1), (4, 8)])
    assert "more slowly than linearly from 10 on" in linearity([(1, 1), (10, 2)])


def test_a_figure_has_three_digits() -> None:
    assert [figure(x) for x in (0.012345, 1.2345, 123.45, 12345.6)] == ["0.0123", "1.23", "123", "12,346"]


@pytest.mark.parametrize("path", BENCHMARKS, ids=lambda p: p.stem)
def test_every_benchmark_measures_and_can_be_run_alone(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert "measure" in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
    assert "run(measure)" in ast.unparse(tree.body[-1])
    assert ast.get_docstring(tree)
