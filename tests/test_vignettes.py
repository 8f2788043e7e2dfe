"""Nineteen wearers whose acceptable answers one practitioner wrote down before any run.

One person's judgement: they guard, they prove nothing. On the same wearers the choice has to be
stable: what is not put first may go, a line may be accepted, prices may differ by a tenth.
"""

from __future__ import annotations

import csv
import itertools
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from engine.answer.choice import choose, near_h
from engine.answer.options import Solver
from engine.answer.plans import compared
from engine.answer.recommend import Answered, answered
from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import build_case, read_case
from engine.tables import Judgements

HERE = Path(__file__).parent / "vignettes"
JUDGED = Judgements.standard()


def _wearers() -> list[dict[str, str]]:
    with (HERE / "expected.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


WEARERS = _wearers()
NAMES = [row["case"] for row in WEARERS]


def _plans(text: str) -> set[str]:
    return {"+".join(sorted(plan.strip().split("+"))) for plan in text.split("|") if plan.strip()}


@cache
def _case(name: str) -> Case:
    return read_case(HERE / f"{name}.json")


def _answered(name: str) -> Answered:
    return _accepting(name, _case(name).wearer.accepts_lined)


@cache
def _accepting(name: str, accepts_lined: bool | None) -> Answered:
    wearer = _case(name).wearer.model_copy(update={"accepts_lined": accepts_lined})
    case = _case(name).model_copy(update={"wearer": wearer})
    return answered(case, Solver(case, JUDGED).options(), judgements=JUDGED)


@pytest.mark.parametrize("row", WEARERS, ids=NAMES)
def test_the_answer_is_an_acceptable_one(row: dict[str, str]) -> None:
    plan = advise(_case(row["case"])).recommendation.plan
    name = "none" if plan is None else "+".join(sorted(plan.split("+")))
    assert name in _plans(row["acceptable_plans"])
    assert name not in _plans(row["unacceptable_plans"])


@pytest.mark.parametrize("name", NAMES)
def test_leaving_out_a_plan_that_was_not_put_first_changes_nothing(name: str) -> None:
    found = _answered(name)
    if found.plan is None:
        assert name == "v21"
        return
    first = found.plans.index(found.plan)
    for place in np.flatnonzero(found.may):
        if place == first:
            continue
        may = found.may.copy()
        may[place] = False
        columns = compared(found.case, found.plans, may=may, judgements=JUDGED)
        again = choose(columns, day_h=np.array([found.case.day_h]), judgements=JUDGED)
        assert int(again.plan[0]) == first, found.plans[place].name


@pytest.mark.parametrize("name", NAMES)
def test_accepting_a_line_changes_no_answer_unless_it_brings_more(name: str) -> None:
    shy, willing = (_accepting(name, accepts) for accepts in (False, True))
    if shy.plan is None or willing.plan is None:
        assert shy.plan is willing.plan
        return
    if shy.plan.name != willing.plan.name:
        near = float(near_h(_case(name).day_h, judgements=JUDGED))
        assert any(option.lens.kind.is_lined for option in willing.plan.options)
        assert willing.plan.comfortable_h > shy.plan.comfortable_h + near


@pytest.mark.parametrize("name", NAMES)
def test_prices_a_tenth_apart_change_nothing(name: str) -> None:
    found = _answered(name)
    if found.plan is None:
        return
    columns = compared(found.case, found.plans, may=found.may, judgements=JUDGED)
    for turn in (0, 1):
        cost = np.array(
            [[100.0 + 10.0 * ((place + turn) % 2) for place in range(len(found.plans))]]
        )
        again = choose(
            replace(columns, cost=cost), day_h=np.array([found.case.day_h]), judgements=JUDGED
        )
        assert int(again.plan[0]) == int(found.chosen.plan[0])


TOPS_CM = (-5, 0, 4, 8)
DESKS = list(itertools.product(TOPS_CM, (1.0, 1.25), (11.0, 12.5, 14.0)))


@pytest.mark.parametrize(("top_cm", "add_d", "corridor_mm"), DESKS)
def test_a_liked_progressive_with_a_low_add_is_kept(
    top_cm: int, add_d: float, corridor_mm: float
) -> None:
    """24 inches at 66 cm, papers at 42 cm: an office lens brings little that counts."""
    eye = {"sphere_d": 0.0, "add_d": add_d}
    design = {"add_d": add_d, "corridor_mm": corridor_mm}
    screen = {"name": "screen", "kind": "screen", "distance_cm": 66, "top_above_eye_cm": top_cm}
    screen |= {"diagonal_in": 24, "aspect": "16:9", "text_height_mm": 3.2}
    papers = {"name": "papers", "kind": "page", "distance_cm": 42, "centre_above_eye_cm": -30}
    papers |= {"width_cm": 21, "height_cm": 29.7, "text_height_mm": 2.0}
    looks = [{"target": "screen", "share": 0.85}, {"target": "papers", "share": 0.15}]
    case = build_case(
        {
            "schema": 1,
            "label": "invented",
            "wearer": {"age_years": 50, "right": eye, "left": eye},
            "owned_pairs": [{"kind": "general_progressive", "design": design, "liked": True}],
            "targets": [screen, papers],
            "activities": [{"name": "desk", "hours": 7, "looks": looks}],
        }
    )
    found = answered(case, Solver(case, JUDGED).options(), judgements=JUDGED)
    assert found.plan is not None
    assert found.plan.name == "present_pair"
