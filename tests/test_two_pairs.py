"""Plans of two pairs: who wears what when, and whether the second pair earns its keep."""

from __future__ import annotations

import pytest

from engine.assemble import advise
from tests import examples

DESK = examples.activity(6, name="desk work", screen=1.0)
DRIVE = {"name": "driving home", "hours": 1, "needs": ["driving"]}
MEETING = examples.activity(2, name="meetings", board=1.0)


def day(*activities, **more):
    targets = [examples.screen(), examples.far()]
    return examples.case(*targets, activities=list(activities), add_d=2.25, age_years=58, **more)


def plan_of(answer, name):
    return next(plan for plan in answer.plans if plan.plan == name)


def test_driving_and_a_screen_take_two_pairs():
    answer = advise(day(DESK, DRIVE))
    plan = plan_of(answer, answer.recommendation.plan)
    assert len(plan.pairs) == 2
    worn = {name: pair.option for pair in plan.pairs for name in pair.activities}
    assert answer.option(worn["driving home"]).covers_distance
    assert not answer.option(worn["desk work"]).covers_distance
    assert plan.swaps == 1
    assert abs(plan.comfortable_h + plan.strained_h + plan.not_served_h - 7.0) <= 1e-9


@pytest.mark.parametrize("need", ["driving", "walking", "stairs"])
def test_a_pair_without_clear_distance_never_gets_a_need(need):
    needy = {**MEETING, "needs": [need]}
    answer = advise(day(DESK, needy, DRIVE))
    for plan in answer.plans:
        for pair in plan.pairs:
            if answer.option(pair.option).covers_distance:
                continue
            alone = len(plan.pairs) == 1
            assert alone or not {"meetings", "driving home"} & set(pair.activities)
    office = plan_of(answer, "office")
    assert office.not_served_h >= 3.0
    assert "needs_clear_distance" in answer.option("office").excluded_by


def test_swaps_follow_the_day():
    answer = advise(day(DRIVE, DESK, {**DRIVE, "name": "driving back"}))
    assert plan_of(answer, answer.recommendation.plan).swaps == 2


def test_a_second_pair_must_earn_its_hours():
    """One lens already serves all: no plan of two pairs is even listed."""
    answer = advise(day(DESK, examples.activity(1, name="chat", screen=1.0)))
    assert all(len(plan.pairs) == 1 for plan in answer.plans)


def test_every_listed_second_pair_earns_three_quarters_of_an_hour():
    answer = advise(day(DESK, MEETING, DRIVE))
    singles = [plan for plan in answer.plans if len(plan.pairs) == 1]
    best_h = max(
        (
            plan.comfortable_h
            for plan in singles
            if answer.option(plan.pairs[0].option).recommendable
        ),
        default=0.0,
    )
    doubles = [plan for plan in answer.plans if len(plan.pairs) == 2]
    assert doubles
    assert all(plan.comfortable_h >= best_h + 0.75 - 1e-9 for plan in doubles)


def test_a_blank_price_is_not_zero():
    prices = {"office": 200.0, "sv_distance": 90.0, "general_progressive": None}
    answer = advise(day(DESK, DRIVE, prices=prices))
    costs = {plan.plan: plan.cost for plan in answer.plans}
    assert costs["office"] == 200.0
    assert costs["general_progressive"] is None
    both = next(
        plan for plan in answer.plans if {p.option for p in plan.pairs} == {"sv_distance", "office"}
    )
    assert both.cost == 290.0
    with_blank = [plan for plan in answer.plans if "general_progressive" in plan.plan]
    assert with_blank
    assert all(plan.cost is None for plan in with_blank)


def test_the_present_pair_costs_nothing_once_prices_are_given():
    present = {"kind": "sv_distance", "liked": True}
    answer = advise(day(DESK, DRIVE, prices={"office": 200.0}, present_pair=present))
    costs = {plan.plan: plan.cost for plan in answer.plans}
    assert costs["present_pair"] == 0.0
    assert costs["office+present_pair"] == 200.0
    assert advise(day(DESK, DRIVE, present_pair=present)).plans[0].cost is None


def test_lined_pairs_are_shown_but_not_planned_unless_accepted():
    shy, willing = (
        advise(day(DESK, DRIVE, wearer={"accepts_lined": yes})) for yes in (False, True)
    )
    assert not shy.option("bifocal_desk").recommendable
    assert willing.option("bifocal_desk").excluded_by == ("needs_clear_distance",)
    assert not any("bifocal_desk" in plan.plan for plan in shy.plans if len(plan.pairs) == 2)
    assert any("bifocal_desk" in plan.plan for plan in willing.plans if len(plan.pairs) == 2)
