"""The table of what judgements are worth: whole, and as the engine gives it today."""

from __future__ import annotations

from functools import cache

import pytest

from engine import tables
from engine.answer.options import Option
from engine.answer.recommend import Answered
from engine.answer.sources import Reading
from engine.assemble import advise
from engine.case.read import read_case
from engine.examples import path_of
from engine.tables import Judgements
from tests.judgement_worth import (
    SETTLED,
    WORTH_H,
    asked,
    cases,
    effect,
    found_at,
)

WORTH = tables.rows("judgement_worth")
MOST = [row for row in WORTH if float(row["most_h"]) > WORTH_H]
AGAIN = "python -m tests.judgement_worth"
NO_RANGE = {
    "scan_chin_up_min_deg", "scan_chin_up_max_deg", "scan_step_deg", "points_a_side",
    "design_step_d", "equivalent_score_h", "same_score_h", "more_plus_worth_h", "more_plus_most_d",
    "firm_up_to_share", "depends_up_to_share", "measure_worth_h", "move_worth_h",
    "enough_of_day_share", "add_outside_usual_d", "first_add_age_years", "high_cylinder_d",
    "legible_arcmin", "strong_power_d", "unequal_adds_d",
}  # fmt: skip
"""Read by an answer and without a range: grids of the search, steps of an order, and from when on
something beside the plan is said. Limits of a free move (desk_) move no hours of a lens either."""


def test_every_judgement_with_a_range_has_its_row_and_the_range_holds_its_value() -> None:
    ranged = {row["id"]: row for row in tables.rows("judgements") if row["low"] != "-"}
    assert {row["id"] for row in WORTH} == {said["id"] for said, _ in asked()}
    assert set(ranged) <= {row["id"] for row in WORTH}
    for row in WORTH:
        one = ranged.get(row["id"])
        if one is not None:
            assert float(one["low"]) <= float(one["value"]) <= float(one["high"])
            assert [row[name] for name in ("value", "low", "high", "unit")] == [
                one[name] for name in ("value", "low", "high", "unit")
            ], AGAIN


def test_what_an_answer_reads_has_a_range_or_a_reason_for_none() -> None:
    reading = Reading.standard()
    advise(read_case(path_of("low_24in")), judgements=reading)
    ranged = {row["id"] for row in tables.rows("judgements") if row["low"] != "-"}
    of_desk = {name for name in reading.read if name.startswith("desk_")}
    assert reading.read - ranged - of_desk <= NO_RANGE


def test_whatever_is_worth_more_than_half_an_hour_says_what_is_done() -> None:
    assert {row["id"] for row in MOST} <= set(SETTLED)
    for row in WORTH:
        assert (row["settled"] != "-") == (row["id"] in SETTLED)
    assert [float(row["most_h"]) for row in WORTH] == sorted(
        (float(row["most_h"]) for row in WORTH), reverse=True
    )


@cache
def base(name: str) -> dict[str, tuple[Answered, list[Option]]]:
    return {name: found_at(cases()[name], Judgements.standard())}


@pytest.mark.parametrize("row", MOST, ids=lambda row: row["id"])
def test_the_largest_change_is_that_of_the_engine_today(row: dict[str, str]) -> None:
    ends = next(both for said, both in asked() if said["id"] == row["id"])
    answers = base(row["most_case"])
    most_h = max(abs(float(effect(answers, end, of_choice=False).hours_h[0])) for end in ends)
    assert abs(most_h - float(row["most_h"])) <= 0.006, AGAIN
