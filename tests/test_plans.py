"""Plans of one pair and of two: who wears what when, what is one thing, what may be recommended."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from engine.answer.options import Option, Solver
from engine.answer.plans import Plan, competing, every_plan, merged, option_name
from engine.answer.reasons import reasons_for
from engine.answer.recommend import Answered, answered
from engine.assemble import advise
from engine.case.model import Case
from engine.case.results import Result
from engine.tables import Judgements
from tests import examples, kind_table

JUDGED = Judgements.standard()
EXACT = 1e-9
"""Room for the last bits of sums of a few hours."""
WORK = examples.activity(6, name="desk", screen=0.75, papers=0.25)
DRIVE = {"name": "driving home", "hours": 1, "needs": ["driving"]}
WALK = {"name": "walking about", "hours": 1, "needs": ["walking", "stairs"]}


def day(*activities: dict[str, Any], **more: Any) -> Case:
    targets = [examples.screen(), examples.paper()]
    given = {"add_d": 2.25, "age_years": 58} | more
    return examples.case(*targets, activities=list(activities) or [WORK], **given)


def solved(case: Case) -> Answered:
    return answered(case, Solver(case, JUDGED).options(), judgements=JUDGED)


@cache
def desk_and_road() -> Answered:
    return solved(day(WORK, DRIVE))


@cache
def desk_and_road_told() -> Result:
    return advise(day(WORK, DRIVE))


def plan_of(found: Answered, *names: str) -> Plan:
    return next(plan for plan in found.plans if {one.name for one in plan.options} == {*names})


def test_hours_of_a_plan_are_those_of_its_pairs_in_what_they_are_worn_for() -> None:
    found = desk_and_road()
    plan = plan_of(found, "office", "sv_distance")
    office, distance = plan.options
    assert [option.name for option in plan.options] == ["office", "sv_distance"]
    assert plan.worn == (0, 1)
    expected = office.hours.comfortable_h[:, 0] + distance.hours.comfortable_h[:, 1]
    assert np.abs(plan.in_draws_h - expected).max() <= EXACT
    assert np.abs(distance.hours.comfortable_h[:, 1] - 1.0).max() <= EXACT
    told = plan.result()
    assert abs(sum(told.by_grade()) - 7.0) <= EXACT
    assert abs(sum(told.as_measured.by_grade()) - 7.0) <= EXACT
    assert told.comfortable_range_h[0] <= told.comfortable_h <= told.comfortable_range_h[1] + EXACT
    unswapped = (office.result.comfortable_h + distance.result.comfortable_h) / 2
    assert told.if_not_swapped_h is not None
    assert abs(told.if_not_swapped_h - unswapped) <= EXACT


def test_a_need_without_clear_distance_is_not_served_whatever_is_looked_at() -> None:
    case = day(WORK, {**WORK, "name": "on the stairs", "hours": 2, "needs": ["stairs"]}, DRIVE)
    found = {option.name: option for option in Solver(case, JUDGED).options()}
    for name, served in (("office", False), ("general_progressive", True)):
        hours = found[name].hours
        assert bool(np.any(hours.comfortable_h[:, 1] > 0.0)) is served
        assert bool(np.any(hours.comfortable_h[:, 2] > 0.0)) is served
        assert bool(hours.awkward_h[1] + hours.blurred_h[1] > 0.0) is served
        assert hours.awkward_h[2] == hours.blurred_h[2] == 0.0
    assert found["office"].result.not_served_h >= 3.0


def test_each_activity_goes_to_the_pair_with_more_hours_and_needs_to_clear_distance() -> None:
    for plan in desk_and_road().plans:
        for at, activity in enumerate(plan.case.activities):
            chosen = plan.options[plan.worn[at]]
            if activity.needs and any(one.result.covers_distance for one in plan.options):
                assert chosen.result.covers_distance
            elif len(plan.options) > 1:
                spent = [one.hours.comfortable_h[:, at].mean() for one in plan.options]
                assert spent[plan.worn[at]] >= max(spent) - EXACT


def test_swaps_follow_the_day() -> None:
    found = solved(day(DRIVE, WORK, {**DRIVE, "name": "driving back"}))
    assert plan_of(found, "office", "sv_distance").swaps == 2
    assert plan_of(found, "general_progressive").swaps == 0


def test_the_day_with_a_road_takes_two_pairs_and_says_so() -> None:
    told = desk_and_road_told()
    plan = told.chosen
    assert plan is not None
    worn = {name: pair.option for pair in plan.pairs for name in pair.activities}
    assert told.option(worn["driving home"]).covers_distance
    assert len(plan.pairs) == 2
    assert "needs_clear_distance" in told.option("office").excluded_by


def test_every_plan_shown_of_two_pairs_is_worth_a_word() -> None:
    found = desk_and_road()
    shown = [plan for plan in found.in_order() if len(plan.options) > 1]
    assert shown
    assert len(shown) < sum(len(plan.options) > 1 for plan in found.competing)
    for plan in shown:
        assert found.plan is not None
        worth = found.behind_by(plan) != "price" or plan is found.plan
        assert worth or plan.comfortable_h > found.plan.comfortable_h + 0.35


def test_a_blank_price_is_not_zero_and_what_is_owned_costs_nothing() -> None:
    owned = {"kind": "sv_distance", "liked": True}
    prices = {"office": 200.0, "sv_distance": 90.0, "general_progressive": None}
    found = solved(day(WORK, DRIVE, prices=prices, present_pair=owned))
    costs = {plan.name: plan.cost for plan in found.plans}
    assert costs["office+present_pair"] == 200.0
    assert costs["present_pair"] == 0.0
    assert costs["general_progressive+office"] is None
    assert solved(day(WORK, DRIVE)).plans[0].cost is None


def test_two_names_for_one_thing_are_one() -> None:
    """An owned lens stands for a new one like it; of new ones of equal power reading stays."""
    page = examples.case(examples.paper(), activities=[examples.activity(4, papers=1.0)], add_d=1.5)
    options = Solver(page, JUDGED).options()
    powers = {option.name: option.lens.free_d for option in options}
    assert powers["sv_computer"] == powers["sv_near"] == 1.5
    names = {option.name for option in merged(options)}
    assert "sv_near" in names
    assert "sv_computer" not in names
    for liked, kept in ((True, False), (None, False), (False, True)):
        case = day(owned_pairs=[{"kind": "sv_distance", "liked": liked}])
        found = {option.name for option in merged(Solver(case, JUDGED).options())}
        assert ("sv_distance" in found) is kept
        assert "present_pair" in found


def test_a_pair_of_another_prescription_is_another_thing_with_other_hours() -> None:
    eye = {"sphere_d": -1.0, "cylinder_d": 0.0, "axis_deg": 180, "add_d": 2.25}
    own = {"right": eye, "left": eye}
    same = day(present_pair={"kind": "sv_distance"})
    other = examples.case(
        examples.screen(),
        examples.paper(),
        activities=[WORK],
        add_d=2.25,
        age_years=58,
        owned_pairs=[{"kind": "sv_distance", "prescription": own}],
    )
    by_name = [{one.name: one for one in Solver(case, JUDGED).options()} for case in (same, other)]
    as_now, older = (found["present_pair"].result for found in by_name)
    assert abs(as_now.comfortable_h - by_name[0]["sv_distance"].result.comfortable_h) <= EXACT
    assert abs(older.comfortable_h - as_now.comfortable_h) > 0.1
    assert "sv_distance" in {option.name for option in merged(list(by_name[1].values()))}


def test_a_disliked_pair_is_no_plan_of_its_own_while_another_is_left() -> None:
    case = day(present_pair={"kind": "office"})
    disliked = case.model_copy(
        update={"owned_pairs": (case.owned_pairs[0].model_copy(update={"liked": False}),)}
    )
    for asked, may in ((case, True), (disliked, False)):
        found = solved(asked)
        place = [plan.name for plan in found.plans].index("present_pair")
        assert bool(found.may[place]) is may
    only = [
        option for option in Solver(disliked, JUDGED).options() if option.name == "present_pair"
    ]
    plans = every_plan(disliked, only)
    assert competing(disliked, plans, judgements=JUDGED).tolist() == [True]


@pytest.mark.parametrize("condition", ["falls_risk", "vertigo"])
def test_the_unsteady_do_not_walk_in_a_first_multifocal(condition: str) -> None:
    owned = {"kind": "sv_distance", "liked": True}
    case = day(WORK, WALK, present_pair=owned, wearer={"conditions": [condition]})
    found = solved(case)
    alone = [plan.name for plan in found.plans].index("general_progressive")
    assert not found.may[alone]
    both = plan_of(found, "general_progressive", "present_pair")
    assert both.options[both.worn[1]].name == "present_pair"
    used = solved(
        case.model_copy(
            update={"owned_pairs": day(present_pair={"kind": "general_progressive"}).owned_pairs}
        )
    )
    assert used.may[[plan.name for plan in used.plans].index("general_progressive")]


def test_without_an_add_no_plan_is_put_first_from_forty_on() -> None:
    none = advise(day(add_d=None, age_years=52, present_pair={"kind": "sv_near"}))
    assert none.recommendation.plan is None
    assert none.recommendation.verdict == "not_computed"
    assert none.recommendation.reasons[0].id == "no_add"
    shown = {option.option for option in none.options}
    assert {"sv_distance", "present_pair"} <= shown <= {"sv_distance", "present_pair", "unaided"}
    young = advise(day(add_d=None, age_years=30))
    assert young.recommendation.plan in ("unaided", "sv_distance")


def test_text_too_small_to_read_gets_no_lens() -> None:
    found = advise(examples.case(examples.screen(text_height_mm=0.4)))
    assert (found.recommendation.plan, found.recommendation.verdict) == (None, "not_computed")
    assert found.recommendation.reasons[0].id == "none_possible"
    assert "2.1 arcmin" in found.cautions[0].text


def test_names_of_options() -> None:
    office = next(one for one in desk_and_road().plans if one.name == "office").options[0].result

    def named(option: str) -> str:
        return option_name(office.model_copy(update={"option": option}))

    assert named("office") == "office lens"
    assert named("present_pair") == "present pair (office lens)"
    assert named("owned_2") == "other pair owned (office lens)"


def test_lined_kinds_are_shown_and_recommended_only_if_accepted() -> None:
    for accepts in (False, True):
        options = Solver(day(wearer={"accepts_lined": accepts}), JUDGED).options()
        found: dict[str, Option] = {option.name: option for option in options}
        for kind in kind_table.kinds(lined="yes"):
            result = found[kind].result
            assert ("line_not_accepted" in result.excluded_by) is not accepts
            assert result.recommendable is (accepts and not result.excluded_by)


def test_who_wants_one_pair_is_given_one_and_told_what_two_would_bring() -> None:
    either = day(WORK, WALK)
    one = day(WORK, WALK, wearer={"wants_one_pair": True})
    found, wanted = solved(either), solved(one)
    assert any(plan.is_two for plan in found.competing)
    assert not any(plan.is_two for plan in wanted.competing)
    told = [said for said in reasons_for(wanted) if said.id == "one_pair_wanted"]
    best_h = max(plan.comfortable_h for plan in found.competing if plan.is_two)
    more_h = best_h - wanted.plan.comfortable_h
    assert more_h > wanted.near_h
    assert [said.values["more_h"] for said in told] == [f"{more_h:.1f}"]
    assert not [said for said in reasons_for(found) if said.id == "one_pair_wanted"]
