"""Complaints about pairs with a known fault: is the true cause among the first three named?

How this came about, so that the figure can be judged. The table of causes and its ranker were
committed before any fault was seeded. On the first set they then placed 86 % of 130 records. The
table was amended once; the second set, held back until then, gave 90 % (89 to 91 % over four draws
of the reading errors). Its misses were looked at, the table amended a second time and frozen, and a
third set of desks invented and run: that is the figure tested here and the one to quote. Its lenses
are held as the first edition of the answer ordered them: 91 %, 90 to 91 % over four draws. With the
lenses that the second edition orders at the same desks it is 89 % (31 of 271 missed; 89 to 90 %).

The engine stands on both sides: it makes the symptom and foretells the record. So this says that
the table undoes what the model does, under reading errors. It does not say how often a real
complaint is solved.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from engine.collection import complaints
from engine.collection.complaints import rank_causes
from tests.fault_seeds import (
    THIRD,
    Record,
    kept_records,
    option_held_out,
    records,
    third_case,
)

HELD_OUT_SCALE, HELD_OUT_SEED = 0.95, 31


@pytest.fixture(scope="module")
def held_out() -> list[Record]:
    found, _ = records(tuple(THIRD), scale=HELD_OUT_SCALE, seed=HELD_OUT_SEED)
    return found


def test_the_true_cause_is_among_the_first_three_in_nine_of_ten(held_out: list[Record]) -> None:
    misses = [record.line() for record in held_out if record.place > 3]
    assert len(held_out) >= 60
    assert len(misses) <= 0.10 * len(held_out), "\n".join(misses)


def test_every_seeded_cause_is_found_somewhere(held_out: list[Record]) -> None:
    for cause in {record.fault.cause for record in held_out}:
        assert any(r.place <= 3 for r in held_out if r.fault.cause == cause), cause


def test_the_misses_on_file_are_those_of_this_set(held_out: list[Record]) -> None:
    """A change of the engine may move a record or two; the list is made anew then."""
    now = {(r.case, r.kind, r.fault.cause) for r in held_out if r.place > 3}
    on_file = {(row["desk"], row["lens_kind"], row["true_cause"]) for row in kept_records()}
    assert len(now ^ on_file) <= 0.03 * len(held_out)


def test_without_its_points_the_table_finds_nothing(
    held_out: list[Record], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The figure comes from the points, not from the order of the rows or the cost of a check."""
    real = complaints.tables.rows

    def without_points(name: str) -> Any:
        rows = real(name)
        return [dict(row) | {"signs": ""} for row in rows] if name == "complaint_causes" else rows

    monkeypatch.setattr(complaints.tables, "rows", without_points)
    hits = 0
    for record in held_out:
        case, option = option_held_out(json.dumps(_asked(record)), record.case, record.kind)
        assert option is not None
        ranked = rank_causes(case=case, option=option, complaint=record.complaint)
        hits += record.fault.cause in [cause.id for cause in ranked[:3]]
    assert hits <= 0.35 * len(held_out)


def _asked(record: Record) -> dict[str, Any]:
    found = third_case(record.case)
    if record.fault.cause in ("vertex_differs", "tilt_differs"):
        sphere = -8.0 if record.case in ("third A", "third C", "third F") else 7.0
        for side in ("right", "left"):
            found["wearer"][side] |= {"sphere_d": sphere}
    return found
