"""Choose between plans: the one set of rules, over arrays of plans.

A case asks with one row, a roster with a row a person. A rule keeps the plans that are best by it;
what it drops stays behind by that rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]

RULES = (
    "price",
    "no_line",
    "hours",
    "sharp",
    "owned_and_liked",
    "new_pairs",
    "pairs",
    "worn_happily",
    "own_cautions",
    "cost",
    "shows_more",
    "more_hours",
    "simpler",
    "first",
)
"""Every rule in the order in which they are asked; the ids of sentences `decided_...`."""
_TIE = 1e-9


@dataclass(frozen=True)
class Compared:
    """Plans side by side, each (rows, plans).

    Attributes:
        may: may be recommended at all.
        comfortable_h: expected, with its 10th percentile low_h. sharp_h: with the awkward ones.
        new_pairs, pairs: how many to buy, and to wear.
        is_kept: made only of pairs owned and liked, or of no glasses alone.
        needs_served: how many activities that need clear distance get it.
        has_new_line: has a line, for somebody who wears none.
        is_worn_happily: holds a kind worn happily.
        own_cautions: cautions that come from the wearer's own condition.
        cost: nan where unknown.
        shows: what it shows beyond the tasks of the day, in steps.
        complexity: the simpler lens first.
    """

    may: Bools
    comfortable_h: Floats
    sharp_h: Floats
    low_h: Floats
    new_pairs: Indices
    pairs: Indices
    is_kept: Bools
    needs_served: Indices
    has_new_line: Bools
    is_worn_happily: Bools
    own_cautions: Indices
    cost: Floats
    shows: Floats
    complexity: Indices


@dataclass(frozen=True)
class Chosen:
    """The plan put first in each row.

    Attributes:
        plan: (rows,) -1 where none may be. rule: (rows,) place in RULES of the rule that decided.
        dropped_by: (rows, plans) place in RULES of the rule that put a plan behind; -1 for the one
            put first and for those that may not be recommended.
    """

    plan: Indices
    rule: Indices
    dropped_by: Indices


def near_h(day_h: Floats | float, *, judgements: Judgements) -> Floats:
    """Return the hours that count as the same: 5 % of the day, 0.25 h to 10 % of the day."""
    day = np.asarray(day_h, dtype=np.float64)
    near = np.maximum(judgements.plan_share_of_day * day, judgements.plan_least_h)
    found: Floats = np.minimum(near, judgements.plan_most_share * day)
    return found


def price_h(
    *,
    new_pairs: Indices | int,
    than: Indices | int,
    is_kept: Bools | bool,
    day_h: Floats | float,
    judgements: Judgements,
) -> Floats:
    """Return hours a plan must bring more than another to be worth taking; all broadcast.

    new_pairs: of the plan. than: new pairs of the other; is_kept: the other is owned and liked.
    """
    more = np.maximum(new_pairs - than, 0)
    price = np.maximum(near_h(day_h, judgements=judgements), judgements.second_pair_earns_h * more)
    return np.where(is_kept, np.maximum(price, judgements.owned_share_of_day * day_h), price)


def choose(plans: Compared, *, day_h: Floats, judgements: Judgements) -> Chosen:
    """Return the plan to put first in each row; day_h is (rows,)."""
    left = plans.may.copy()
    dropped_by = np.full(left.shape, -1, dtype=np.intp)
    decided = np.zeros(len(left), dtype=np.intp)
    for rule, kept in _rules(plans, left, day_h[:, None], judgements):
        place = RULES.index(rule)
        dropped_by[left & ~kept] = place
        dropped_by[kept] = -1
        decided[np.any(left & ~kept, axis=1)] = place
        left[:] = kept
    is_any = left.any(axis=1)
    plan = np.where(is_any, np.argmax(left, axis=1), -1)
    return Chosen(plan, np.where(is_any, decided, -1), dropped_by)


def _rules(
    plans: Compared, left: Bools, day_h: Floats, judgements: Judgements
) -> Iterator[tuple[str, Bools]]:
    """Yield each rule with the plans it keeps; `left` is what the rules before it have kept.

    What is owned and liked comes back, whatever hours have said of it.
    """
    near = near_h(day_h, judgements=judgements)
    yield "price", left & _worth_more_pairs(plans, near, judgements)
    yield "no_line", left & ~(plans.has_new_line & ~_brings_more(plans, left, near))
    kept = _kept(plans, left, day_h, near, judgements)
    yield "hours", _near_most(plans.comfortable_h, left, near)
    yield "sharp", _near_most(plans.sharp_h, left, near)
    yield "owned_and_liked", np.where(kept.any(axis=1, keepdims=True), kept, left)
    yield "new_pairs", _least(plans.new_pairs, left)
    yield "pairs", _least(plans.pairs, left)
    yield "worn_happily", _preferring(plans.is_worn_happily, left)
    yield "own_cautions", _least(plans.own_cautions, left)
    yield "cost", _cheapest(plans.cost, left, judgements)
    good_low = left & (plans.low_h >= _most(plans.low_h, left) - judgements.poor_day_nears * near)
    yield "shows_more", left & (plans.shows >= _most(plans.shows, good_low) - _TIE)
    step_h = judgements.more_hours_h
    yield "more_hours", left & (plans.comfortable_h > _most(plans.comfortable_h, left) - step_h)
    yield "simpler", _least(plans.complexity, left)
    most = left & (plans.comfortable_h >= _most(plans.comfortable_h, left))
    yield "first", most & (np.cumsum(most, axis=1) == 1)


def _worth_more_pairs(plans: Compared, near: Floats, judgements: Judgements) -> Bools:
    """Tell where a plan of two pairs beats every single one by the price of what is more to buy."""
    worth = np.ones(plans.may.shape, dtype=bool)
    single = plans.may & (plans.pairs == 1)
    for new in (0, 1):
        best_h = _most(plans.comfortable_h, single & (plans.new_pairs == new))
        more = np.maximum(plans.new_pairs - new, 0)
        bar_h = np.where(more > 0, judgements.second_pair_earns_h * more, near)
        worth &= plans.comfortable_h >= best_h + bar_h - _TIE
    found: Bools = worth | (plans.pairs == 1) | ~single.any(axis=1, keepdims=True)
    return found


def _brings_more(plans: Compared, left: Bools, near: Floats) -> Bools:
    """Find plans with hours more than near above those of every plan left without a new line."""
    without_h = _most(plans.comfortable_h, left & ~plans.has_new_line)
    found: Bools = plans.comfortable_h > without_h + near + _TIE
    return found


def _kept(
    plans: Compared, left: Bools, day_h: Floats, near: Floats, judgements: Judgements
) -> Bools:
    """Find plans of pairs owned and liked that no other betters by enough, or by a need served.

    What is owned as well but not liked, or not asked about, costs as little to take.
    """
    own = left & plans.is_kept
    best_own_h = _most(plans.comfortable_h, own)
    own = _near_most(plans.comfortable_h, own, near)
    others = left & ~plans.is_kept
    worth_h = np.where(plans.new_pairs > 0, judgements.owned_share_of_day * day_h, near)
    bettered = others & (plans.comfortable_h > best_own_h + worth_h + _TIE)
    needs = _most(plans.needs_served, own)
    lost = (bettered | (others & (plans.needs_served > needs))).any(axis=1, keepdims=True)
    return own & ~lost


def _most(values: Floats | Indices, among: Bools) -> Floats:
    """Return the largest of some plans of each row, (rows, 1); minus infinity of none."""
    most: Floats = np.where(among, values, -np.inf).max(axis=1, keepdims=True, initial=-np.inf)
    return most


def _near_most(values: Floats, among: Bools, near: Floats) -> Bools:
    """Return those of some plans that are near the largest of each row; near is (rows, 1)."""
    found: Bools = among & (values >= _most(values, among) - near - _TIE)
    return found


def _least(values: Indices, left: Bools) -> Bools:
    """Return the plans left with the smallest value."""
    found: Bools = left & (values <= -_most(-values.astype(np.float64), left))
    return found


def _preferring(test: Bools, left: Bools) -> Bools:
    """Keep the plans left that pass a test, or all of a row where none does."""
    passing = left & test
    return np.where(passing.any(axis=1, keepdims=True), passing, left)


def _cheapest(cost: Floats, left: Bools, judgements: Judgements) -> Bools:
    """Return the cheapest, and those dearer by a tenth or less, where every price is known."""
    known = ~np.any(left & np.isnan(cost), axis=1, keepdims=True)
    least = -_most(-np.nan_to_num(cost), left)
    cheap: Bools = left & (cost <= (1.0 + judgements.costs_differ_share) * least + _TIE)
    return np.where(known, cheap, left)
