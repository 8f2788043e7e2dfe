"""Who wears what when: plans of one pair or more, their order, and why.

A plan gives each activity one pair. A pair without clear distance is never worn for driving,
walking or stairs: through it those hours are not served.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine import tables
from engine.case.results import PairResult, PlanResult, Told
from engine.case.targets import look_hours
from engine.lenses.kinds import KINDS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from engine.case.model import Activity, Case, Design
    from engine.tables import Judgements

PRESENT = "present_pair"
"""The option that is the pair worn today."""
_TIE = 1e-9


@dataclass(frozen=True)
class Hours:
    """Hours of a part of the day."""

    comfortable: float
    strained: float
    not_served: float
    reserve: float

    def __add__(self, other: Hours) -> Hours:
        return Hours(
            self.comfortable + other.comfortable,
            self.strained + other.strained,
            self.not_served + other.not_served,
            self.reserve + other.reserve,
        )


NO_HOURS = Hours(0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Solved:
    """One option as far as the search found it, before it is written down.

    Attributes:
        shares: comfortable, strained, not served and reserve share by target name.
        one_posture: one-posture share by target name.
        plus_d: sum of the powers of the design.
    """

    option: str
    kind: str
    design: Design
    plus_d: float
    covers_distance: bool
    shares: Mapping[str, tuple[float, float, float, float]]
    one_posture: Mapping[str, float]

    def hours_in(self, activity: Activity) -> Hours:
        """Hours of one activity through this option."""
        if activity.needs and not self.covers_distance:
            return Hours(0.0, 0.0, activity.hours, 0.0)
        if not activity.looks:
            return Hours(activity.hours, 0.0, 0.0, activity.hours)
        total = NO_HOURS
        for name, hours in look_hours(activity).items():
            clear, usable, lost, reserve = (share * hours for share in self.shares[name])
            total += Hours(clear, usable, lost, reserve)
        return total

    def one_posture_share(self, activities: Sequence[Activity]) -> float:
        """Share of the looking that is clear at one chin-up a target, over some activities."""
        hours = hours_by_target(activities)
        total = sum(hours.values())
        shares = sum(self.one_posture[name] * spent for name, spent in hours.items())
        return shares / total if total else 0.0


def hours_by_target(activities: Sequence[Activity]) -> dict[str, float]:
    """Hours a day on each target, over some activities."""
    hours: dict[str, float] = {}
    for activity in activities:
        for name, spent in look_hours(activity).items():
            hours[name] = hours.get(name, 0.0) + spent
    return hours


@dataclass(frozen=True)
class Plan:
    """A plan under comparison.

    Attributes:
        pairs: each option with the activities it is worn for.
        needs_swapping: a distance need asks for a swap of pairs.
    """

    name: str
    pairs: tuple[tuple[Solved, tuple[Activity, ...]], ...]
    swaps: int
    cost: float | None
    needs_swapping: bool

    @property
    def hours(self) -> Hours:
        """Hours of the day."""
        total = NO_HOURS
        for option, activities in self.pairs:
            for activity in activities:
                total += option.hours_in(activity)
        return total

    @property
    def score_h(self) -> float:
        """Comfortable and reserve hours together."""
        return self.hours.comfortable + self.hours.reserve

    @property
    def plus_d(self) -> float:
        """Sum of the powers of its pairs."""
        return sum(option.plus_d for option, _ in self.pairs)

    @property
    def one_posture_share(self) -> float:
        """Mean over the pairs, weighted by the hours each is worn."""
        worn = [(option, acts, sum(act.hours for act in acts)) for option, acts in self.pairs]
        total = sum(hours for *_, hours in worn)
        return sum(option.one_posture_share(acts) * hours for option, acts, hours in worn) / total

    def result(self) -> PlanResult:
        """The plan as it is told."""
        hours = self.hours
        return PlanResult(
            plan=self.name,
            pairs=tuple(
                PairResult(
                    option=option.option,
                    design=option.design,
                    activities=tuple(activity.name for activity in activities),
                )
                for option, activities in self.pairs
            ),
            comfortable_h=hours.comfortable,
            strained_h=hours.strained,
            not_served_h=hours.not_served,
            reserve_h=hours.reserve,
            swaps=self.swaps,
            cost=self.cost,
        )


def price(case: Case, option: str, kind: str) -> float | None:
    """The user's price of a pair; the pair already worn costs nothing, a blank is not zero."""
    if option in (PRESENT, "unaided"):
        return 0.0 if case.prices else None
    return case.prices.get(kind)


def one_pair_plans(case: Case, options: Sequence[Solved]) -> tuple[Plan, ...]:
    """A plan for each option, worn for everything it may be worn for."""
    needy = any(activity.needs for activity in case.activities)
    return tuple(
        Plan(
            name=option.option,
            pairs=((option, case.activities),),
            swaps=0,
            cost=price(case, option.option, option.kind),
            needs_swapping=needy and not option.covers_distance,
        )
        for option in options
    )


def two_pair_plans(
    case: Case, options: Sequence[Solved], *, best_single_h: float, judgements: Judgements
) -> tuple[Plan, ...]:
    """Plans of two pairs whose second pair earns its keep.

    Each activity gets the pair with the more comfortable hours (then reserve, then the first);
    one that needs clear distance only a pair that gives it. best_single_h: comfortable hours of
    the best plan of one pair that may be recommended, 0 where none may (as when none gives the
    clear distance the day needs). Swaps are counted over the activities in the order given.
    """
    found = []
    for first, second in itertools.combinations(options, 2):
        worn = [_better(first, second, activity) for activity in case.activities]
        if worn.count(first) in (0, len(worn)):
            continue
        plan = _two_pairs(case, first, second, worn)
        earned = plan.hours.comfortable - best_single_h
        if earned >= judgements.second_pair_earns_h - _TIE:
            found.append(plan)
    return tuple(found)


def _better(first: Solved, second: Solved, activity: Activity) -> Solved:
    if activity.needs and first.covers_distance != second.covers_distance:
        return first if first.covers_distance else second
    one, other = first.hours_in(activity), second.hours_in(activity)
    if abs(one.comfortable - other.comfortable) > _TIE:
        return first if one.comfortable > other.comfortable else second
    return second if other.reserve > one.reserve + _TIE else first


def _two_pairs(case: Case, first: Solved, second: Solved, worn: Sequence[Solved]) -> Plan:
    by_pair = tuple(
        (
            option,
            tuple(act for act, pair in zip(case.activities, worn, strict=True) if pair is option),
        )
        for option in (first, second)
    )
    costs = [price(case, option.option, option.kind) for option in (first, second)]
    known = [cost for cost in costs if cost is not None]
    return Plan(
        name=f"{first.option}+{second.option}",
        pairs=by_pair,
        swaps=sum(one is not other for one, other in itertools.pairwise(worn)),
        cost=sum(known) if len(known) == len(costs) else None,
        needs_swapping=any(activity.needs for activity in case.activities),
    )


@dataclass(frozen=True)
class Choice:
    """The plan to recommend, and the rule that decided between plans as good in hours."""

    plan: Plan
    decided_by: str
    close: tuple[Plan, ...]


def near_h(case: Case, judgements: Judgements) -> float:
    """Plans whose hours differ by no more than this are as good in hours."""
    return max(judgements.plan_share_of_day * case.day_h, judgements.plan_least_h)


def choose(case: Case, possible: Sequence[Plan], *, judgements: Judgements) -> Choice | None:
    """The plan to recommend of those that may be; None when none serves any of the day.

    Without an add only distance lenses and the present pair are computed: that they serve nothing
    says nothing of other lenses, so the best of them stays, provisional.

    Plans within 5 % of the day (at least 0.25 h) of the most comfortable hours are as good; among
    them decide, one after the other: distance needs without a swap, reserve hours (by 0.5 or
    more), one-posture share (by 0.1 or more), the pair or kind worn happily, cost if all have one,
    comfortable and reserve hours together, and the least plus.
    """
    served = any(plan.hours.comfortable + plan.hours.strained > 0.0 for plan in possible)
    if not possible or (case.wearer.add_d is not None and not served):
        return None
    best = max(plan.hours.comfortable for plan in possible)
    near = near_h(case, judgements)
    close = [plan for plan in possible if plan.hours.comfortable >= best - near - _TIE]
    left, decided_by = close, "hours"
    for rule, keep in _rules(case, judgements):
        kept = keep(left)
        if len(kept) < len(left):
            left, decided_by = kept, rule
    return Choice(plan=left[0], decided_by=decided_by, close=tuple(close))


def _rules(
    case: Case, judgements: Judgements
) -> list[tuple[str, Callable[[list[Plan]], list[Plan]]]]:
    def within(plans: list[Plan], value: Callable[[Plan], float], step: float) -> list[Plan]:
        most = max(value(plan) for plan in plans)
        return [plan for plan in plans if value(plan) > most - step + _TIE]

    def or_all(plans: list[Plan], test: Callable[[Plan], bool]) -> list[Plan]:
        return [plan for plan in plans if test(plan)] or plans

    def cheapest(plans: list[Plan]) -> list[Plan]:
        costs = [plan.cost for plan in plans if plan.cost is not None]
        if len(costs) < len(plans):
            return plans
        return [plan for plan in plans if plan.cost == min(costs)]

    def weakest(plans: list[Plan]) -> list[Plan]:
        least = min(plan.plus_d for plan in plans)
        return [plan for plan in plans if plan.plus_d <= least + _TIE]

    present = case.present_pair
    liked = present.kind if present is not None and present.liked else None
    return [
        (
            "distance_without_swap",
            lambda plans: or_all(plans, lambda plan: not plan.needs_swapping),
        ),
        (
            "reserve",
            lambda plans: within(plans, lambda p: p.hours.reserve, judgements.plan_reserve_h),
        ),
        (
            "one_posture",
            lambda plans: within(
                plans, lambda p: p.one_posture_share, judgements.plan_one_posture_share
            ),
        ),
        ("worn_happily", lambda plans: or_all(plans, lambda p: p.pairs[0][0].kind == liked)),
        ("present_kept", lambda plans: or_all(plans, lambda p: p.name == PRESENT)),
        ("cost", cheapest),
        ("score", lambda plans: within(plans, lambda p: p.score_h, judgements.same_score_h)),
        ("least_plus", weakest),
    ]


def holds_up(plan: Plan, *, judgements: Judgements) -> bool:
    """Whether no more than a quarter of the comfortable hours is lost on a bad day."""
    hours = plan.hours
    return hours.reserve >= (1.0 - judgements.reserve_loss_share) * hours.comfortable - _TIE


def option_name(option: str, kind: str, *, audience: str = "optician") -> str:
    """What a person calls an option."""
    name = KINDS[kind].name(audience=audience)
    return f"present pair ({name})" if option == PRESENT else name


def told(identity: str, **values: object) -> Told:
    """A reason with its values filled in, for the optician."""
    return Told(id=identity, values=values, text=tables.sentence(identity, values))


def covers_distance(option_kind: str, added_power_d: Sequence[float], limit_d: float) -> bool:
    """Whether a pair may be worn for driving, walking and stairs.

    added_power_d: at the fitting point and up to 10 mm above. Only some kinds ever may.
    """
    if not KINDS[option_kind].may_cover_distance:
        return False
    return all(abs(power) <= limit_d + _TIE for power in added_power_d)
