"""Published numbers against the engine, published errors, and the page that counts both."""

from __future__ import annotations

import ast
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path

import pytest

from tests.published import rows, summary

ROOT = Path(__file__).resolve().parents[1]
ROWS = rows.read_rows()
PRINTED = [row for row in ROWS if row.standing == rows.PRINTED]
MISPRINTS = rows.read_misprints()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_published_number(row: rows.Row) -> None:
    value = rows.result(row.function, row.inputs)
    gap = rows.deviation(value, row.expected)
    assert gap <= row.tolerance, f"{row.function} gives {value}, {row.source} has {row.expected}"


@pytest.mark.parametrize("error", MISPRINTS, ids=lambda error: error.id)
def test_published_error_is_not_reproduced(error: rows.Misprint) -> None:
    value = rows.result(error.function, error.inputs)
    assert abs(float(value) - error.misprint) >= error.differs_by_at_least, error.what_is_right


def test_ids_stand_once_and_every_row_says_where_it_is_from() -> None:
    assert len({row.id for row in ROWS}) == len(ROWS)
    for row in ROWS:
        assert row.standing in rows.STANDINGS, row.id
        assert row.source, row.id
        assert row.locator, row.id
        assert row.why_tolerance, row.id
        assert row.unit, row.id


def test_enough_numbers_were_printed_elsewhere_and_no_source_carries_the_rest() -> None:
    by_source = Counter(row.source for row in PRINTED)
    assert len(PRINTED) >= 180
    assert len(by_source) >= 40
    assert max(by_source.values()) <= 15


@cache
def taken() -> dict[str, set[str]]:
    """Return what the program takes: by the module named in full, and by the name before a dot."""
    found: dict[str, set[str]] = defaultdict(set)
    for path in (*ROOT.glob("engine/**/*.py"), *ROOT.glob("app/**/*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                found[str(node.module)] |= {alias.name for alias in node.names}
            elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                found[node.value.id].add(node.attr)
    return found


def is_in_use(module: str, name: str) -> bool:
    """Return whether the program takes a name from a module, itself or by way of its neighbours."""
    if name in taken()[f"engine.{module}"] | taken()[module.rpartition(".")[2]]:
        return True
    path = ROOT / "engine" / f"{module.replace('.', '/')}.py"
    neighbours = [
        node.name
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, (ast.FunctionDef, ast.ClassDef))
        and node.name != name
        and any(isinstance(part, ast.Name) and part.id == name for part in ast.walk(node))
    ]
    return any(is_in_use(module, neighbour) for neighbour in neighbours)


def test_every_function_counted_is_one_the_program_computes_with() -> None:
    functions = {row.function.partition("#")[0] for row in (*ROWS, *MISPRINTS)}
    unused = [name for name in sorted(functions) if not is_in_use(*name.rsplit(".", 1))]
    assert unused == []
    assert not is_in_use("optics.spectacles", "a_formula_nobody_calls")


def test_every_formula_has_a_printed_number_or_says_that_none_was_found() -> None:
    printed = {row.function.partition("#")[0] for row in PRINTED}
    formulas = set(rows.formulas())
    assert len(formulas) >= 30
    assert formulas - printed - set(summary.WHY_NO_PRINT) == set(), "search, or say why"
    assert set(summary.WHY_NO_PRINT) & printed == set(), "a number was found: say no more why"
    assert set(summary.WHY_NO_PRINT) <= formulas


def test_the_page_of_counts_is_fresh() -> None:
    page = (rows.FOLDER / "README.md").read_text(encoding="utf-8")
    assert page == summary.page(ROWS, MISPRINTS), "run: python -m tests.published.summary"


def test_a_wrong_number_is_seen() -> None:
    assert rows.deviation(1.0, 1.2) == pytest.approx(0.2)
    assert rows.deviation([1.0, 2.0], [1.0, 2.5]) == pytest.approx(0.5)
    assert rows.deviation([1.0], [1.0, 2.0]) == float("inf")
    assert rows.deviation("acceptable", "conditional") == float("inf")
    assert rows.deviation(True, False) == float("inf")
    assert rows.deviation(3.0, "inf") == float("inf")
    assert rows.deviation(float("inf"), "inf") == 0.0
    with pytest.raises(ValueError, match="not public"):
        rows.result("spectacles._bracket", {})
