"""Put a plan first, and hold it against the others: what a case is answered with."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from engine.answer import doubt
from engine.answer.choice import RULES, Chosen, choose, near_h
from engine.answer.plans import Plan, compared, competing, every_plan, walks_in_risk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from engine.answer.doubt import Contest
    from engine.answer.options import Option
    from engine.case.model import Case
    from engine.tables import Judgements

    Bools = NDArray[np.bool_]


_TIE = 1e-9
MOST_NAMED = 3
"""So many plans are named as good, or with more hours."""


@dataclass(frozen=True)
class Answered:
    """The plans of a case and the one put first.

    Attributes:
        may: (plans,) which may be recommended.
        chosen: by `choice.choose`, of one row.
    """

    case: Case
    judgements: Judgements
    plans: tuple[Plan, ...]
    may: Bools
    chosen: Chosen

    @property
    def plan(self) -> Plan | None:
        """The plan put first; None where none may be."""
        place = int(self.chosen.plan[0])
        return None if place < 0 else self.plans[place]

    @property
    def rule(self) -> str | None:
        """The rule that decided."""
        place = int(self.chosen.rule[0])
        return None if place < 0 else RULES[place]

    def behind_by(self, plan: Plan) -> str:
        """Return the rule that put a plan behind."""
        return RULES[int(self.chosen.dropped_by[0, self.plans.index(plan)])]

    @property
    def competing(self) -> tuple[Plan, ...]:
        """Plans that may be recommended."""
        return tuple(plan for plan, may in zip(self.plans, self.may, strict=True) if may)

    @cached_property
    def contest(self) -> Contest:
        """The plan put first, where there is one, against the others in every draw."""
        first = self.plans[int(self.chosen.plan[0])]
        rivals = [plan for plan in self.competing if plan is not first]
        return doubt.contest(first, rivals, day_h=self.case.day_h, judgements=self.judgements)

    @cached_property
    def near_h(self) -> float:
        """Hours that count as the same on this day."""
        return float(near_h(self.case.day_h, judgements=self.judgements))

    @cached_property
    def as_good(self) -> tuple[Plan, ...]:
        """The other plans within what counts as near of the most hours, and of the one put first.

        Single pairs first, then by hours.
        """
        first = self.plan
        if first is None:
            return ()
        near = self.near_h + _TIE
        most_h = max(plan.comfortable_h for plan in self.competing)
        found = (
            plan
            for plan in self.competing
            if plan is not first and most_h - near <= plan.comfortable_h
            if plan.comfortable_h <= first.comfortable_h + near
        )
        return tuple(sorted(found, key=lambda plan: (len(plan.options), -plan.comfortable_h)))

    @cached_property
    def with_more_hours(self) -> tuple[Plan, ...]:
        """The plans that bring more than counts as near over the one put first."""
        first = self.plan
        if first is None:
            return ()
        least_h = first.comfortable_h + self.near_h + _TIE
        return tuple(plan for plan in self.competing if plan.comfortable_h > least_h)

    def outdoes(self, pair: Plan, plan: Plan, *, by_h: float) -> bool:
        """Tell whether a new pair with so many hours more keeps a plan from being put first.

        Whatever else there were: they are more than the rules let go for what is owned and liked,
        and none of them drops the new pair itself before, for a line, a second pair or a risk.
        """
        if not pair.new_pairs or pair.is_two or pair.options[0].lens.kind.is_lined:
            return False
        kept_h = self.judgements.owned_share_of_day * self.case.day_h if plan.is_kept else 0.0
        return by_h > self.near_h + kept_h + 2 * _TIE and not walks_in_risk(self.case, pair)

    def in_order(self) -> tuple[Plan, ...]:
        """Return plans to show: the one put first, then those that may be, then other single pairs.

        Of two pairs only those worth a word: named as good, worth their price, or with more hours
        than the first.
        """
        first, may = self.plan, {plan.name for plan in self.competing}
        shown = [plan for plan in self.plans if plan is not first and self._is_shown(plan)]
        by_hours = sorted(shown, key=lambda plan: (plan.name not in may, -plan.comfortable_h))
        return (*([] if first is None else [first]), *by_hours)

    def _is_shown(self, plan: Plan) -> bool:
        """Tell whether a plan behind the first is worth a row; see `in_order`."""
        if not plan.is_two or plan in self.as_good[:MOST_NAMED]:
            return True
        if self.plan is None or not self.may[self.plans.index(plan)]:
            return False
        return plan in self.with_more_hours or self.behind_by(plan) != "price"


def answered(case: Case, options: Sequence[Option], *, judgements: Judgements) -> Answered:
    """Put one of all plans first."""
    plans = every_plan(case, options)
    if not plans:
        none = np.full(1, -1)
        return Answered(
            case, judgements, (), np.zeros(0, dtype=bool), Chosen(none, none, none[:, None])
        )
    may = competing(case, plans, judgements=judgements)
    chosen = choose(
        compared(case, plans, may=may, judgements=judgements),
        day_h=np.array([case.day_h]),
        judgements=judgements,
    )
    return Answered(case, judgements, plans, may, chosen)
