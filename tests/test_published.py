"""Published numbers against the engine, published errors, and the page that counts both."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.published import rows, summary

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
