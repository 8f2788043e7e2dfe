"""Who wears what when: plans of one pair or two, and which of them may be recommended.

A plan gives each activity one pair. A pair without clear distance is never worn for driving,
walking or stairs: through it those hours are not served.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from engine import wording
from engine.answer import cautions
from engine.answer.choice import Compared
from engine.answer.held import range_h
from engine.answer.options import PRESENT, owned_name
from engine.case.results import Hours, PairResult, PlanResult, Told, not_served_h
from engine.case.scene import taken_add_d
from engine.lenses.kinds import KINDS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from engine.answer.held import HoursHeld
    from engine.answer.options import Option
    from engine.case.model import Activity, Case
    from engine.case.results import OptionResult
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

_TIE = 1e-9
_OWNED_NAMES = {
    PRESENT: "present pair",
    owned_name(1): "other pair owned",
    owned_name(2): "third pair owned",
    owned_name(3): "fourth pair owned",
}
_UNSTEADY = ("falls_risk", "vertigo")
"""Conditions that keep a first multifocal from stairs while another pair serves them."""
_ON_FOOT = {"walking", "stairs"}
_FAR_STEPS_CM = (100.0, 200.0, 400.0, 600.0)
"""Steps of how far a pair shows; from 6 m on there is no limit."""


@dataclass(frozen=True)
class Plan:
    """A plan under comparison.

    Attributes:
        options: its pairs, by name.
        worn: for each activity of the case, which of them.
    """

    case: Case
    options: tuple[Option, ...]
    worn: tuple[int, ...]

    @property
    def name(self) -> str:
        """The names of its pairs, joined by a plus."""
        return "+".join(option.name for option in self.options)

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """The kind of each pair."""
        return tuple(option.lens.kind for option in self.options)

    @cached_property
    def in_draws_h(self) -> Floats:
        """Comfortable hours of the day in each draw, (draws,)."""
        columns = [self._of(at).comfortable_h[:, at] for at in range(len(self.worn))]
        total: Floats = np.sum(columns, axis=0)
        return total

    @cached_property
    def comfortable_h(self) -> float:
        """Expected comfortable hours."""
        return float(self.in_draws_h.mean())

    @cached_property
    def awkward_h(self) -> float:
        """Expected awkward hours."""
        return float(sum(self._of(at).awkward_h[at] for at in range(len(self.worn))))

    @cached_property
    def blurred_h(self) -> float:
        """Expected blurred hours."""
        return float(sum(self._of(at).blurred_h[at] for at in range(len(self.worn))))

    @cached_property
    def range_h(self) -> tuple[float, float]:
        """The 10th and the 90th percentile of the comfortable hours."""
        return range_h(self.in_draws_h)

    @property
    def new_pairs(self) -> int:
        """How many pairs have to be bought."""
        return sum(option.is_new for option in self.options)

    @property
    def is_kept(self) -> bool:
        """Whether nothing but pairs owned and liked, or no glasses, is worn."""
        return all(option.is_kept for option in self.options)

    @property
    def is_two(self) -> bool:
        """Whether glasses are changed in the day."""
        return len(self.options) > 1

    @property
    def swaps(self) -> int:
        """Changes of glasses in the day, over the activities in the order given."""
        return sum(one != other for one, other in itertools.pairwise(self.worn))

    @property
    def needs_served(self) -> int:
        """How many activities that need clear distance get it."""
        return sum(
            bool(activity.needs) and self.options[pair].result.covers_distance
            for activity, pair in zip(self.case.activities, self.worn, strict=True)
        )

    @property
    def if_not_swapped_h(self) -> float | None:
        """Comfortable hours if one of two pairs is worn all day, on average; None of one pair."""
        if not self.is_two:
            return None
        return float(np.mean([option.result.comfortable_h for option in self.options]))

    @property
    def cost(self) -> float | None:
        """What its new pairs cost at the user's prices; what is owned costs nothing."""
        prices = self.case.prices
        costs = [prices.get(one.lens.kind.id) if one.is_new else 0.0 for one in self.options]
        known = [cost for cost in costs if cost is not None]
        return sum(known) if prices and len(known) == len(costs) else None

    def worn_for(self, place: int) -> tuple[Activity, ...]:
        """Return the activities one of its pairs is worn for."""
        pairs = zip(self.case.activities, self.worn, strict=True)
        return tuple(activity for activity, pair in pairs if pair == place)

    def _of(self, activity: int) -> HoursHeld:
        """Return the hours through the pair worn for an activity."""
        return self.options[self.worn[activity]].hours

    def result(self) -> PlanResult:
        """Return the plan as it is told."""
        day_h = self.case.day_h
        measured = sum(self._of(at).as_measured_h[:, at] for at in range(len(self.worn)))
        comfortable, awkward, blurred = (float(one) for one in np.asarray(measured))
        return PlanResult(
            plan=self.name,
            pairs=tuple(
                PairResult(
                    option=option.name,
                    design=option.result.design,
                    activities=tuple(activity.name for activity in self.worn_for(place)),
                )
                for place, option in enumerate(self.options)
            ),
            comfortable_h=self.comfortable_h,
            comfortable_range_h=self.range_h,
            awkward_h=self.awkward_h,
            blurred_h=self.blurred_h,
            not_served_h=not_served_h(day_h, self.comfortable_h, self.awkward_h, self.blurred_h),
            new_pairs=self.new_pairs,
            swaps=self.swaps,
            if_not_swapped_h=self.if_not_swapped_h,
            cost=self.cost,
            as_measured=Hours(
                comfortable_h=comfortable,
                awkward_h=awkward,
                blurred_h=blurred,
                not_served_h=not_served_h(day_h, comfortable, awkward, blurred),
            ),
        )


def every_plan(case: Case, options: Sequence[Option]) -> tuple[Plan, ...]:
    """List every plan of one pair, and of two that share the day; equal lenses are merged."""
    singles = [Plan(case, (option,), (0,) * len(case.activities)) for option in merged(options)]
    found = list(singles)
    ordered = sorted((plan.options[0] for plan in singles), key=lambda option: option.name)
    for pair in itertools.combinations(ordered, 2):
        worn = tuple(_better(case, pair, at) for at in range(len(case.activities)))
        if 0 < sum(worn) < len(worn):
            found.append(Plan(case, pair, worn))
    return tuple(found)


def merged(options: Sequence[Option]) -> list[Option]:
    """Return the options without those that are another by another name.

    A new lens equal to an owned one is the owned one, unless that is disliked; of new ones of equal
    power the pair for reading stays.
    """
    kept: list[Option] = []
    for option in sorted(options, key=_standing):
        twins = (one for one in kept if one.lens.is_same(option.lens))
        if option.is_new and any(not one.is_disliked for one in twins):
            continue
        kept.append(option)
    names = {option.name for option in kept}
    return [option for option in options if option.name in names]


def _standing(option: Option) -> tuple[bool, bool, str]:
    """Return a key to sort by: owned before new, then pairs with only a near zone before others."""
    zones = [zone for zone, *_ in option.lens.kind.zones(option.result.design)]
    return option.is_new, zones != ["near"], option.name


def _better(case: Case, pair: tuple[Option, Option], at: int) -> int:
    """Tell which of two pairs an activity is for: clear distance first, then expected hours."""
    activity = case.activities[at]
    if activity.needs:
        covers = [option.result.covers_distance for option in pair]
        if covers[0] != covers[1]:
            return int(covers[1])
        on_foot = bool(_ON_FOOT & {*activity.needs})
        risky = [on_foot and is_risky_on_foot(option, case) for option in pair]
        if risky[0] != risky[1]:
            return int(risky[0])
    one, other = (float(option.hours.comfortable_h[:, at].mean()) for option in pair)
    if abs(one - other) > _TIE:
        return int(other > one)
    return int(pair[1].hours.sharp_h[at] > pair[0].hours.sharp_h[at] + _TIE)


def is_risky_on_foot(option: Option, case: Case) -> bool:
    """Tell whether it would be a first multifocal to walk in, for somebody unsteady."""
    if not any(one in case.wearer.conditions for one in _UNSTEADY):
        return False
    owns = any(KINDS[pair.kind].blurs_the_feet for pair in case.owned_pairs)
    return option.lens.kind.blurs_the_feet and not owns


def competing(case: Case, plans: Sequence[Plan], *, judgements: Judgements) -> Bools:
    """Return which plans may be recommended, whatever a pair is worth: (plans,).

    Not: a lens shut out by frame, line or power; a plan that leaves a need for clear distance;
    two pairs for somebody who wants one, a disliked pair alone, and a first multifocal to walk in
    for somebody unsteady, while another plan is left. None without an add, and none that serves
    nothing of the day.
    """
    if np.isnan(taken_add_d(case, judgements=judgements)):
        return np.zeros(len(plans), dtype=bool)
    may = np.array([_may(case, plan) for plan in plans], dtype=bool)
    if case.wearer.wants_one_pair:
        may = _unless_nothing_left(may, [plan.is_two for plan in plans])
    may = _unless_nothing_left(
        may, [not plan.is_two and plan.options[0].is_disliked for plan in plans]
    )
    return _unless_nothing_left(may, [walks_in_risk(case, plan) for plan in plans])


def _unless_nothing_left(may: Bools, dropped: Sequence[bool]) -> Bools:
    """Return the plans that may be recommended without those dropped, or all where none is left."""
    left = may & ~np.array(dropped, dtype=bool)
    return left if left.any() else may


def _may(case: Case, plan: Plan) -> bool:
    """Tell whether a plan serves something, and every need, through lenses not shut out."""
    if plan.comfortable_h + plan.awkward_h + plan.blurred_h <= 0.0:
        return False
    needs = sum(bool(activity.needs) for activity in case.activities)
    if plan.needs_served < needs:
        return False
    for option in plan.options:
        told = [caution.id for caution in option.result.cautions]
        met = {*cautions.excludes(told)} - {*cautions.excludes(told, with_another_pair=True)}
        if {*option.result.excluded_by} - (met if plan.is_two else set()):
            return False
    return True


def walks_in_risk(case: Case, plan: Plan) -> bool:
    """Tell whether somebody unsteady would walk in a first multifocal."""
    return any(
        bool(_ON_FOOT & {*activity.needs}) and is_risky_on_foot(plan.options[pair], case)
        for activity, pair in zip(case.activities, plan.worn, strict=True)
    )


def compared(case: Case, plans: Sequence[Plan], *, may: Bools, judgements: Judgements) -> Compared:
    """Put plans side by side, for `choice.choose`: one row."""
    happy = {pair.kind for pair in case.owned_pairs if pair.liked}
    wears_line = any(KINDS[pair.kind].is_lined for pair in case.owned_pairs)
    step_h = judgements.forgotten_swap_step_h

    def row(value: Callable[[Plan], float | None]) -> Any:
        return np.array([[value(plan) for plan in plans]])

    def has_line(plan: Plan) -> bool:
        return any(kind.is_lined for kind in plan.kinds)

    return Compared(
        may=may[None],
        comfortable_h=row(lambda plan: plan.comfortable_h),
        sharp_h=row(lambda plan: plan.comfortable_h + plan.awkward_h),
        low_h=row(lambda plan: plan.range_h[0]),
        new_pairs=row(lambda plan: plan.new_pairs),
        pairs=row(lambda plan: len(plan.options)),
        is_kept=row(lambda plan: plan.is_kept),
        needs_served=row(lambda plan: plan.needs_served),
        has_new_line=row(lambda plan: has_line(plan) and not wears_line),
        is_worn_happily=row(lambda plan: any(kind.id in happy for kind in plan.kinds)),
        own_cautions=row(lambda plan: len(_own_cautions(plan))),
        cost=row(lambda plan: np.nan if plan.cost is None else plan.cost),
        shows=row(lambda plan: _shows(plan, step_h)),
        complexity=row(lambda plan: max(kind.complexity for kind in plan.kinds)),
    )


def _shows(plan: Plan, step_h: float) -> float:
    """Count what it shows beyond the tasks: steps of distance, or of hours if not swapped."""
    unswapped_h = plan.if_not_swapped_h
    if unswapped_h is not None:
        return float(np.floor(unswapped_h / step_h + _TIE))
    far_cm = plan.options[0].result.sees_to_cm
    return float(far_steps(np.inf if far_cm is None else far_cm))


def _own_cautions(plan: Plan) -> set[str]:
    """Return the cautions of its pairs that come from the wearer's own condition."""
    return {
        caution.id
        for option in plan.options
        for caution in option.result.cautions
        if cautions.is_of_condition(caution.id)
    }


def far_steps(far_cm: Floats | float) -> Floats:
    """Return how far a pair shows, in steps: under 1 m, 1 to 2, 2 to 4, 4 to 6, 6 m and more.

    far_cm: infinite without a limit.
    """
    reached = np.asarray(far_cm)[..., None] >= np.array(_FAR_STEPS_CM)
    return np.asarray(reached.sum(axis=-1), dtype=np.float64)


def option_name(option: OptionResult) -> str:
    """Return what an optician calls an option, such as "present pair (office lens)"."""
    name, owned = KINDS[option.kind].name(), _OWNED_NAMES.get(option.option)
    return name if owned is None else f"{owned} ({name})"


def told(identity: str, **values: object) -> Told:
    """Return a reason with its values filled in, for the optician."""
    return Told(id=identity, values=values, text=wording.say(identity, **values))
