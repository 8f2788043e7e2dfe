"""The plan that the pages follow: the one put first until the user takes another. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from engine.case.results import PlanResult, Result

TAKEN = "view.plan"
"""The plan that was taken, in a draft; empty while the one put first stands."""
LOOKED_THROUGH, PICKED = "view.option", "view.option_picked"
"""What is looked through in the picture; until it is picked by hand, it follows the plan."""
ORDERED_BY_HAND, SECOND_BY_HAND = "order.option_chosen", "order2.option_chosen"
"""Until the lens of pair one or two is chosen by hand, it follows the plan too."""


@dataclass(frozen=True)
class Offered:
    """A plan that one click takes, and the sentence that offers it."""

    plan: str
    text: str


def as_good(result: Result) -> list[Offered]:
    """Return the plans as good in hours as the one put first."""
    return [Offered(one.plan, one.text) for one in result.recommendation.as_good]


def more_hours(result: Result) -> list[Offered]:
    """Return the plans with more hours, each at its price."""
    return [Offered(one.plan, one.text) for one in result.recommendation.more_hours]


def without_move(result: Result) -> str | None:
    """Return the plan for a desk that stays as it is; None unless a free move is put first."""
    said = result.recommendation
    if not result.plans or said.plan is None or said.move_first is None:
        return None
    return result.plans[0].plan if result.plans[0].plan != said.plan else None


def in_view(result: Result, held: Mapping[str, Any]) -> PlanResult | None:
    """Return the plan taken where the answer offers it, else the one put first, if any."""
    taken = held.get(TAKEN)
    offered = [one.plan for one in (*as_good(result), *more_hours(result))]
    if taken and taken in [*offered, without_move(result)]:
        return result.plan(taken)
    return result.chosen


def taking(plan: str) -> dict[str, Any]:
    """Return what a draft holds once a plan is taken: picture and order follow it."""
    return {TAKEN: plan, PICKED: False, ORDERED_BY_HAND: False, SECOND_BY_HAND: False}
