"""Each rule of the choice: a day that turns on it, and the same day without the rule."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.answer import choice
from engine.answer.choice import RULES, Chosen, Compared, choose, near_h, price_h
from engine.tables import Judgements

JUDGED = Judgements.standard()
DAY_H = 6.0
BLANK: dict[str, Any] = {
    "may": True,
    "comfortable_h": 5.0,
    "sharp_h": 5.5,
    "low_h": 4.5,
    "new_pairs": 1,
    "pairs": 1,
    "is_kept": False,
    "needs_served": 0,
    "has_new_line": False,
    "is_worn_happily": False,
    "own_cautions": 0,
    "cost": np.nan,
    "shows": 0.0,
    "complexity": 1,
}


def compared(*plans: dict[str, Any]) -> Compared:
    """Invented plans, each a change of the same one."""
    whole = [{**BLANK, **plan} for plan in plans]
    return Compared(**{name: np.array([[plan[name] for plan in whole]]) for name in BLANK})


def chosen(*plans: dict[str, Any], day_h: float = DAY_H) -> Chosen:
    return choose(compared(*plans), day_h=np.array([day_h]), judgements=JUDGED)


FIRST: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "price": ({"comfortable_h": 5.0}, {"comfortable_h": 5.7, "pairs": 2, "new_pairs": 2}),
    "no_line": ({"comfortable_h": 5.0}, {"comfortable_h": 5.3, "has_new_line": True}),
    "hours": ({"comfortable_h": 5.31}, {"comfortable_h": 5.0, "new_pairs": 0}),
    "sharp": ({"sharp_h": 5.9}, {"sharp_h": 5.5, "new_pairs": 0}),
    "owned_and_liked": (
        {"comfortable_h": 4.0, "is_kept": True, "new_pairs": 0, "own_cautions": 1},
        {"comfortable_h": 5.1},
    ),
    "new_pairs": ({"new_pairs": 0, "own_cautions": 1}, {"new_pairs": 1}),
    "pairs": ({"own_cautions": 1}, {"pairs": 2, "comfortable_h": 5.3}),
    "worn_happily": ({"is_worn_happily": True, "own_cautions": 1}, {}),
    "own_cautions": ({"cost": 300.0}, {"own_cautions": 1, "cost": 100.0}),
    "cost": ({"cost": 100.0}, {"cost": 111.0, "shows": 4.0}),
    "shows_more": ({"shows": 2.0, "comfortable_h": 4.8}, {"shows": 1.0}),
    "more_hours": ({"comfortable_h": 5.1, "complexity": 2}, {"comfortable_h": 5.0}),
    "simpler": ({"complexity": 1}, {"complexity": 2, "comfortable_h": 5.05}),
    "first": ({}, {}),
}
"""For each rule the plan it puts first and another, which a later rule would prefer."""


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("turned", [False, True])
def test_each_rule_decides(rule: str, turned: bool) -> None:
    first, other = FIRST[rule]
    plans = (other, first) if turned and rule != "first" else (first, other)
    found = chosen(*plans)
    at = plans.index(first)
    assert (int(found.plan[0]), RULES[int(found.rule[0])]) == (at, rule)
    assert RULES[int(found.dropped_by[0, 1 - at])] == rule
    assert int(found.dropped_by[0, at]) == -1


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule != "first"])
def test_without_the_rule_another_plan_comes_first(
    rule: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, other = FIRST[rule]
    rules = choice._rules

    def without(plans: Compared, left: Any, day_h: Any, judgements: Judgements) -> Any:
        for name, kept in rules(plans, left, day_h, judgements):
            yield name, left.copy() if name == rule else kept

    monkeypatch.setattr(choice, "_rules", without)
    assert int(chosen(other, first).plan[0]) == 0


def test_the_rules_are_asked_in_their_order() -> None:
    plans = compared({}, {})
    left = plans.may.copy()
    asked = [name for name, _ in choice._rules(plans, left, np.array([[DAY_H]]), JUDGED)]
    assert tuple(asked) == RULES


@pytest.mark.parametrize(
    ("day_h", "near"), [(10.0, 0.5), (7.0, 0.35), (4.0, 0.25), (2.0, 0.2), (0.5, 0.05)]
)
def test_what_counts_as_near(day_h: float, near: float) -> None:
    """5 % of the day, at least a quarter of an hour, never more than a tenth of the day."""
    assert abs(float(near_h(day_h, judgements=JUDGED)) - near) <= 1e-12


@pytest.mark.parametrize(
    ("new", "than", "kept", "price"),
    [
        (1, 1, False, 0.3),
        (2, 1, False, 0.75),
        (2, 0, False, 1.5),
        (1, 0, True, 1.5),
        (2, 0, True, 1.5),
    ],
)
def test_the_price_of_taking_another_plan(new: int, than: int, kept: bool, price: float) -> None:
    found = price_h(new_pairs=new, than=than, is_kept=kept, day_h=DAY_H, judgements=JUDGED)
    assert abs(float(found) - price) <= 1e-12


@pytest.mark.parametrize(("more_h", "second"), [(1.49, False), (1.5, False), (1.51, True)])
def test_a_new_pair_must_bring_a_quarter_of_the_day_more_than_one_liked(
    more_h: float, second: bool
) -> None:
    kept = {"comfortable_h": 4.0, "is_kept": True, "new_pairs": 0}
    found = chosen(kept, {"comfortable_h": 4.0 + more_h})
    assert bool(found.plan[0]) is second


def test_a_need_served_ends_the_stay_of_what_is_liked() -> None:
    kept = {"comfortable_h": 4.9, "is_kept": True, "new_pairs": 0}
    assert chosen(kept, {"comfortable_h": 5.0}).plan[0] == 0
    assert chosen({**kept, "may": False}, {"comfortable_h": 5.0}).plan[0] == 1
    assert chosen(kept, {"comfortable_h": 5.3, "needs_served": 1}).plan[0] == 1


def test_an_owned_pair_nobody_asked_about_needs_no_quarter_of_the_day() -> None:
    kept = {"comfortable_h": 4.0, "is_kept": True, "new_pairs": 0}
    assert chosen(kept, {"comfortable_h": 4.31, "new_pairs": 0}).plan[0] == 1
    assert chosen(kept, {"comfortable_h": 4.29, "new_pairs": 0}).plan[0] == 0


def test_a_plan_with_a_poor_day_does_not_win_by_what_it_shows() -> None:
    wide = {"shows": 4.0, "low_h": 3.8, "complexity": 3}
    assert chosen({"low_h": 4.5}, wide).plan[0] == 0
    assert chosen({"low_h": 4.5}, {**wide, "low_h": 3.95}).plan[0] == 1


def test_a_second_pair_is_priced_against_every_single_plan() -> None:
    """0.75 h for each pair more to buy, and near where there is none more."""
    owned = {"new_pairs": 0, "comfortable_h": 4.0}
    bought = {"new_pairs": 1, "comfortable_h": 4.4}
    for more_h, wins in ((0.76, True), (0.74, False)):
        two = {"new_pairs": 1, "pairs": 2, "comfortable_h": 4.0 + more_h}
        found = chosen(owned, bought, two)
        assert (RULES[int(found.dropped_by[0, 2])] != "price") is wins or not wins
        assert (int(found.dropped_by[0, 2]) == RULES.index("price")) is not wins


def test_prices_a_tenth_apart_and_unknown_ones_decide_nothing() -> None:
    dear, cheap = {"cost": 110.0, "shows": 4.0}, {"cost": 100.0}
    assert chosen(cheap, dear).plan[0] == 1
    assert chosen(cheap, {**dear, "cost": 110.1}).plan[0] == 0
    assert chosen(cheap, {**dear, "cost": np.nan}).plan[0] == 1


def test_where_none_may_be_recommended_none_is() -> None:
    found = chosen({"may": False}, {"may": False})
    assert (int(found.plan[0]), int(found.rule[0])) == (-1, -1)


def test_rows_are_chosen_apart_from_each_other() -> None:
    """A roster asks with a row a person: each gets what it would get alone."""
    chance = np.random.default_rng(3)
    shape = (40, 7)
    plans = replace(
        compared(*([{}] * 7)),
        may=chance.random(shape) < 0.8,
        comfortable_h=chance.uniform(3.0, 6.0, shape),
        sharp_h=chance.uniform(5.0, 6.0, shape),
        low_h=chance.uniform(3.0, 5.0, shape),
        new_pairs=chance.integers(0, 3, shape),
        pairs=chance.integers(1, 3, shape),
        is_kept=chance.random(shape) < 0.2,
        needs_served=chance.integers(0, 2, shape),
        has_new_line=chance.random(shape) < 0.2,
        is_worn_happily=chance.random(shape) < 0.2,
        own_cautions=chance.integers(0, 2, shape),
        cost=chance.uniform(50.0, 400.0, shape),
        shows=chance.integers(0, 5, shape).astype(float),
        complexity=chance.integers(0, 4, shape),
    )
    day_h = chance.uniform(2.0, 10.0, shape[0])
    together = choose(plans, day_h=day_h, judgements=JUDGED)
    for row in range(shape[0]):
        part = Compared(**{name: values[[row]] for name, values in vars(plans).items()})
        alone = choose(part, day_h=day_h[[row]], judgements=JUDGED)
        assert alone.plan[0] == together.plan[row]
        assert alone.rule[0] == together.rule[row]
        assert np.array_equal(alone.dropped_by[0], together.dropped_by[row])
    assert len(set(together.rule.tolist())) >= 5
