"""The bugs that are planted to try the campaign must find the lines that they replace: else a run for an hour ends at once."""

from __future__ import annotations

import ast

import pytest

from tests.campaign.mutants import MUTANTS, TREE, WATCH


@pytest.mark.parametrize(("what", "name", "old", "new"), MUTANTS, ids=[m[0] for m in MUTANTS])
def test_a_planted_bug_replaces_a_line_that_there_is_by_another_that_is_python(
    what: str, name: str, old: str, new: str
) -> None:
    text = (TREE / (name if "/" in name else WATCH + name)).read_text(encoding="utf-8")
    assert old in text, what
    planted = text.replace(old, new, 1)
    assert planted != text
    ast.parse(planted)
