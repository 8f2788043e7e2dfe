"""A free move that makes the recommended lens serve more hours is told, solved again, and true."""

from __future__ import annotations

from typing import Any

from engine.assemble import advise
from engine.case.model import Case
from engine.case.results import Told
from tests import examples

HIGH = {"diagonal_in": 24, "distance_cm": 60, "top_above_eye_cm": 12, "text_height_mm": 3.2}


def a_day(**more: Any) -> Case:
    """An invented wearer of 58 whose screen stands too high."""
    screen = examples.screen(**{**HIGH, **more})
    return examples.case(screen, add_d=2.5, age_years=58)


def gains(case: Case) -> list[Told]:
    said = advise(case, thorough=True).recommendation.what_would_change
    return [told for told in said if told.id == "moved_gain"]


def test_the_gain_of_a_lower_screen_is_that_of_the_case_so_changed() -> None:
    now = advise(a_day())
    chosen = now.recommendation.plan
    assert chosen == "sv_computer"
    (told,) = gains(a_day())
    assert told.values["change"].endswith(" cm lower")
    by_cm = float(told.values["change"].split()[0])
    then = advise(a_day(top_above_eye_cm=12 - by_cm)).option(chosen)
    assert abs(float(told.values["hours_h"]) - then.comfortable_h) <= 0.051
    assert abs(float(told.values["now_h"]) - now.option(chosen).comfortable_h) <= 0.051
    assert then.comfortable_h > now.option(chosen).comfortable_h + 0.3
    for part in ("screen", told.values["change"], "single-vision computer", "of 6 h"):
        assert part in told.text


def test_nothing_is_told_of_a_screen_that_may_not_move_or_stands_well() -> None:
    assert gains(a_day())
    assert not gains(a_day(movable=False))
    assert not gains(a_day(top_above_eye_cm=-5))


def test_a_move_that_the_present_pair_needs_is_told_once_as_the_first_thing_to_do() -> None:
    case = examples.case(
        examples.screen(top_above_eye_cm=2, distance_cm=62, text_height_mm=4.0),
        present_pair={"kind": "general_progressive", "design": {"corridor_mm": 11}},
        add_d=1.75,
        age_years=52,
    )
    assert advise(case, thorough=True).recommendation.desk_first is not None
    assert not gains(case)


def test_two_pairs_have_no_gain_of_one_lens() -> None:
    drive = {"name": "way home", "hours": 2, "needs": ["driving"], "looks": []}
    case = examples.case(
        examples.screen(**HIGH),
        add_d=2.5,
        age_years=58,
        activities=[examples.activity(6, screen=1.0), drive],
    )
    result = advise(case, thorough=True)
    plan = next(one for one in result.plans if one.plan == result.recommendation.plan)
    assert len(plan.pairs) == 2
    assert not gains(case)
