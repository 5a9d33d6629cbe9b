"""The table "Faults by hand" of docs/hardware.md: each row has its test, and each such test its row."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def rows() -> list[str]:
    """First cells of the table."""
    page = (ROOT / "docs" / "hardware.md").read_text(encoding="utf-8")
    part = re.split(r"^## ", page, flags=re.MULTILINE)
    [table] = [p for p in part if p.startswith("Faults by hand\n")]
    found = [line.split("|")[1].strip() for line in table.splitlines() if line.startswith("|")]
    return found[2:]  # without the head and its rule


def shown_by_tests() -> dict[str, list[str]]:
    """Row: the tests that are marked with it."""
    found: dict[str, list[str]] = {}
    for path in (ROOT / "tests").rglob("test_hand_*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name.startswith("test_"):
                for mark in node.decorator_list:
                    if isinstance(mark, ast.Call) and getattr(mark.func, "id", "") == "by_hand":
                        [row] = mark.args
                        assert isinstance(row, ast.Constant)
                        found.setdefault(str(row.value), []).append(node.name)
    return found


def test_each_row_is_shown_by_a_test_and_each_test_by_hand_is_a_row() -> None:
    assert len(rows()) >= 9, "the nine faults of the issue, at the least"
    assert set(rows()) == set(shown_by_tests())
    assert len(rows()) == len(set(rows()))
