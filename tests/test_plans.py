"""Hours of a pair, plans of one pair, and which of them is chosen; two pairs: test_two_pairs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from engine.answer.plans import (
    PRESENT,
    Choice,
    Hours,
    Plan,
    Solved,
    choose,
    covers_distance,
    holds_up,
    hours_by_target,
    one_pair_plans,
    option_name,
    price,
)
from engine.assemble import advise
from engine.case.model import Activity, Case, Design
from engine.case.results import Result
from engine.tables import Judgements
from tests import examples, kind_table

STANDARD = Judgements.standard()
EXACT = 1e-12
"""Room for the last bits of sums of a few hours."""
WORK = examples.activity(6, name="desk", screen=0.75, papers=0.25)
WAY = {"name": "way home", "hours": 1, "needs": ["driving"]}


def day(*activities: dict[str, Any], **more: Any) -> Case:
    return examples.case(
        examples.screen(), examples.paper(), activities=list(activities) or [WORK], **more
    )


def solved(
    option: str = "office",
    *,
    screen: tuple[float, float, float, float] = (0.8, 0.1, 0.1, 0.6),
    papers: tuple[float, float, float, float] = (1.0, 0.0, 0.0, 0.4),
    covers: bool = False,
    one_posture: float = 0.5,
    plus_d: float = 2.0,
    kind: str | None = None,
) -> Solved:
    """An invented option."""
    return Solved(
        option=option,
        kind=kind or option,
        design=Design(add_d=plus_d),
        plus_d=plus_d,
        covers_distance=covers,
        shares={"screen": screen, "papers": papers},
        one_posture={"screen": one_posture, "papers": one_posture},
    )


def chosen(case: Case, *options: Solved) -> Choice:
    choice = choose(case, one_pair_plans(case, options), judgements=STANDARD)
    assert choice is not None
    return choice


def with_hours(option: str, comfortable_h: float, reserve_h: float = 0.0, **more: Any) -> Solved:
    """An invented option with so many hours of a day of six."""
    share = comfortable_h / 6.0
    parts = (share, 0.0, 1.0 - share, reserve_h / 6.0)
    return solved(option, screen=parts, papers=parts, **more)


def test_hours_of_an_activity_are_shares_of_what_is_looked_at() -> None:
    activity = day().activities[0]
    hours = solved().hours_in(activity)
    assert abs(hours.comfortable - (4.5 * 0.8 + 1.5 * 1.0)) <= EXACT
    assert abs(hours.strained - 4.5 * 0.1) <= EXACT
    assert abs(hours.not_served - 4.5 * 0.1) <= EXACT
    assert abs(hours.reserve - (4.5 * 0.6 + 1.5 * 0.4)) <= EXACT
    assert hours_by_target([activity]) == {"screen": 4.5, "papers": 1.5}


def test_a_need_without_clear_distance_is_not_served_whatever_is_looked_at() -> None:
    needy = Activity.model_validate({**WORK, "needs": ["stairs"]})
    assert solved(covers=False).hours_in(needy) == Hours(0.0, 0.0, 6.0, 0.0)
    assert solved(covers=True).hours_in(needy).comfortable > 5.0
    way = Activity.model_validate(WAY)
    assert solved(covers=True).hours_in(way) == Hours(1.0, 0.0, 0.0, 1.0)
    assert solved(covers=False).hours_in(way) == Hours(0.0, 0.0, 1.0, 0.0)


def test_a_plan_of_one_pair_wears_it_all_day() -> None:
    case = day(WORK, WAY)
    for option in (solved(covers=False), solved("sv_distance", covers=True)):
        (plan,) = one_pair_plans(case, [option])
        assert plan.result().pairs[0].activities == ("desk", "way home")
        assert (plan.swaps, plan.cost) == (0, None)
        assert plan.needs_swapping is not option.covers_distance
        hours = plan.hours
        assert abs(hours.comfortable + hours.strained + hours.not_served - case.day_h) <= EXACT
    (plan,) = one_pair_plans(day(), [solved(covers=False)])
    assert not plan.needs_swapping


@pytest.mark.parametrize(("behind_h", "reserve_wins"), [(0.299, True), (0.3, True), (0.301, False)])
def test_plans_within_5_percent_of_the_day_are_as_good(behind_h: float, reserve_wins: bool) -> None:
    """6 h: 5 % is 0.30 h."""
    choice = chosen(
        day(),
        with_hours("sv_near", 5.0, 2.0),
        with_hours("office", 5.0 - behind_h, 4.0),
    )
    assert (choice.plan.name == "office") is reserve_wins
    assert choice.decided_by == ("reserve" if reserve_wins else "hours")
    assert len(choice.close) == (2 if reserve_wins else 1)


@pytest.mark.parametrize(
    ("behind_h", "reserve_wins"), [(0.249, True), (0.25, True), (0.251, False)]
)
def test_a_short_day_still_allows_a_quarter_of_an_hour(behind_h: float, reserve_wins: bool) -> None:
    """2 h: 5 % would be 0.10 h; a share of s is 2 s hours."""
    short = day({**WORK, "hours": 2})
    choice = chosen(
        short, with_hours("sv_near", 6.0, 0.0), with_hours("office", 6.0 - 3 * behind_h, 3.0)
    )
    assert (choice.plan.name == "office") is reserve_wins


@pytest.mark.parametrize(
    ("ahead_h", "rule"), [(0.501, "reserve"), (0.5, "reserve"), (0.499, "one_posture")]
)
def test_reserve_decides_from_half_an_hour_and_then_one_posture(ahead_h: float, rule: str) -> None:
    choice = chosen(
        day(),
        with_hours("office", 5.0, 4.0 - ahead_h, one_posture=0.9),
        with_hours("sv_near", 5.0, 4.0, one_posture=0.2),
    )
    assert choice.decided_by == rule
    assert choice.plan.name == ("sv_near" if rule == "reserve" else "office")


@pytest.mark.parametrize(("ahead", "decides"), [(0.101, True), (0.1, True), (0.099, False)])
def test_one_posture_decides_from_a_tenth(ahead: float, decides: bool) -> None:
    choice = chosen(
        day(),
        with_hours("office", 5.0, one_posture=0.6, plus_d=1.0),
        with_hours("sv_near", 5.0, one_posture=0.6 + ahead, plus_d=2.0),
    )
    assert choice.decided_by == ("one_posture" if decides else "least_plus")
    assert choice.plan.name == ("sv_near" if decides else "office")


def test_distance_without_a_swap_comes_before_reserve() -> None:
    way = {**WAY, "hours": 0.2}
    choice = chosen(
        day(WORK, way),
        with_hours("office", 5.2, 5.2, covers=False),
        with_hours("general_progressive", 5.0, 0.0, covers=True),
    )
    assert choice.plan.name == "general_progressive"
    assert choice.decided_by == "distance_without_swap"


@pytest.mark.parametrize("liked", [True, False])
def test_the_kind_worn_happily_comes_before_cost(liked: bool) -> None:
    present = {"kind": "sv_near", "liked": liked}
    case = day(present_pair=present, prices={"sv_near": 90.0, "office": 50.0})
    choice = chosen(case, with_hours("office", 5.0), with_hours("sv_near", 5.0))
    assert choice.plan.name == ("sv_near" if liked else "office")
    assert choice.decided_by == ("worn_happily" if liked else "cost")


def test_the_present_pair_is_kept_when_it_is_as_good() -> None:
    case = day(present_pair={"kind": "office"})
    choice = chosen(case, with_hours("office", 5.0), with_hours(PRESENT, 5.0, kind="office"))
    assert choice.plan.name == PRESENT
    assert choice.decided_by == "present_kept"


def test_a_blank_price_is_no_price_and_decides_nothing() -> None:
    case = day(prices={"sv_near": 90.0, "office": None})
    assert price(case, "office", "office") is None
    assert price(case, "sv_near", "sv_near") == 90.0
    assert price(case, PRESENT, "office") == 0.0
    assert price(case, "unaided", "unaided") == 0.0
    assert price(day(), PRESENT, "office") is None
    choice = chosen(case, with_hours("sv_near", 5.0), with_hours("office", 5.0))
    assert choice.decided_by != "cost"


def test_the_least_plus_decides_last() -> None:
    choice = chosen(
        day(), with_hours("office", 5.0, plus_d=3.0), with_hours("sv_near", 5.0, plus_d=2.0)
    )
    assert (choice.plan.name, choice.decided_by) == ("sv_near", "least_plus")


def test_without_a_plan_there_is_no_choice() -> None:
    assert choose(day(), (), judgements=STANDARD) is None


def test_a_lens_that_serves_nothing_is_not_chosen_and_one_that_strains_is() -> None:
    nothing = (0.0, 0.0, 1.0, 0.0)
    blind = solved("office", screen=nothing, papers=nothing)
    assert choose(day(), one_pair_plans(day(), [blind]), judgements=STANDARD) is None
    strained = solved("sv_near", screen=(0.0, 0.1, 0.9, 0.0), papers=nothing)
    assert chosen(day(), strained).plan.name == "sv_near"


def test_for_text_too_small_to_read_no_lens_is_called_firm() -> None:
    case = examples.case(examples.screen(text_height_mm=0.4))
    result = advise(case, thorough=True)
    assert (result.recommendation.plan, result.recommendation.verdict) == (None, "not_computed")
    assert result.recommendation.reasons[0].id == "none_possible"
    assert "text is 2.1 arcmin" in result.cautions[0].text


@pytest.mark.parametrize(("reserve_h", "holds"), [(3.01, True), (3.0, True), (2.99, False)])
def test_a_plan_that_loses_more_than_a_quarter_does_not_hold(reserve_h: float, holds: bool) -> None:
    (plan,) = one_pair_plans(day(), [with_hours("office", 4.0, reserve_h)])
    assert holds_up(plan, judgements=STANDARD) is holds
    assert holds_up(plan, judgements=replace(STANDARD, reserve_loss_share=1.0))


@pytest.mark.parametrize(
    ("kind", "powers", "covers"),
    [
        ("sv_distance", [0.0, 0.0], True),
        ("general_progressive", [0.12, -0.12], True),
        ("general_progressive", [0.0, 0.121], False),
        ("bifocal_ft28", [0.0], True),
        ("trifocal_7x28", [0.0], True),
        ("office", [0.0], False),
        ("bifocal_desk", [0.0], False),
        ("sv_computer", [0.0], False),
        ("sv_near", [0.0], False),
        ("unaided", [0.0], False),
    ],
)
def test_which_pairs_cover_clear_distance(kind: str, powers: list[float], covers: bool) -> None:
    assert covers_distance(kind, powers, STANDARD.clear_distance_added_d) is covers


def test_names_of_options() -> None:
    assert option_name("office", "office") == "office lens"
    assert option_name(PRESENT, "office") == "present pair (office lens)"
    assert option_name("sv_distance", "sv_distance", audience="wearer") == "distance glasses"


# --- the same in whole answers ---------------------------------------------------------------


def answer(**more: Any) -> Result:
    return advise(day(**more))


def test_every_option_has_a_plan_and_the_recommended_one_may_be_recommended() -> None:
    found = answer()
    assert {option.option for option in found.options} <= {plan.plan for plan in found.plans}
    assert found.option(found.recommendation.plan or "").recommendable
    for plan in found.plans:
        if len(plan.pairs) == 1:
            option = found.option(plan.plan)
            assert abs(plan.comfortable_h - option.comfortable_h) <= EXACT
            assert abs(plan.reserve_h - option.reserve_h) <= EXACT


def test_lined_kinds_are_shown_and_recommended_only_if_accepted() -> None:
    for accepts in (False, True):
        found = answer(wearer={"accepts_lined": accepts})
        for kind in kind_table.kinds(lined="yes"):
            option = found.option(kind)
            assert ("line_not_accepted" in option.excluded_by) is not accepts
            assert option.recommendable is (accepts and not option.excluded_by)


def test_the_mean_of_one_posture_shares_is_weighted_by_hours() -> None:
    option = replace(solved(), one_posture={"screen": 1.0, "papers": 0.2})
    (plan,) = one_pair_plans(day(), [option])
    assert isinstance(plan, Plan)
    assert abs(plan.one_posture_share - (0.75 * 1.0 + 0.25 * 0.2)) <= EXACT
