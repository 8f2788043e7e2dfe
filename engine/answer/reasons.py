"""Why: the reasons for a recommendation and against the other lenses, each with its values."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.answer import plans
from engine.answer.plans import option_name, told
from engine.lenses.kinds import KINDS
from engine.units import chin_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from engine.answer.plans import Choice, Plan
    from engine.case.model import Case
    from engine.case.results import OptionResult, OptionTarget, RowResult, Told
    from engine.tables import Judgements


def reasons_for(
    case: Case, options: Sequence[OptionResult], choice: Choice, *, judgements: Judgements
) -> tuple[Told, ...]:
    """Why this plan: its hours, what decided, what posture it asks for, whether it holds up."""
    names = {option.option: plan_option_name(option) for option in options}
    plan, hours = choice.plan, choice.plan.hours
    best = max(choice.close, key=lambda one: one.hours.comfortable)
    label = " + ".join(names[option.option] for option, _ in plan.pairs)
    found: list[Told] = []
    if best.hours.comfortable <= hours.comfortable + 0.05:
        found.append(
            told(
                "most_hours",
                option=label,
                comfortable_h=written_h(hours.comfortable),
                day_h=written_h(case.day_h),
            )
        )
    else:
        found.append(
            told(
                "as_good_hours",
                option=label,
                comfortable_h=written_h(hours.comfortable),
                day_h=written_h(case.day_h),
                best_h=written_h(best.hours.comfortable),
                best=" + ".join(names[option.option] for option, _ in best.pairs),
            )
        )
    found += _decided(choice)
    found += _postures(case, plan, options)
    if not plans.holds_up(plan, judgements=judgements):
        values = {"comfortable_h": written_h(hours.comfortable)}
        found.append(told("does_not_hold", **values, reserve_h=written_h(hours.reserve)))
    return tuple(found)


def reasons_against(
    case: Case, options: Sequence[OptionResult], choice: Choice
) -> tuple[Told, ...]:
    """Why not the others a wearer asks about."""
    chosen = {option.option for option, _ in choice.plan.pairs}
    reached = _reached([option for option in options if option.option in chosen])
    needy = any(activity.needs for activity in case.activities)
    found: list[Told] = []
    for option in options:
        if not _is_asked_about(option) or option.option in chosen:
            continue
        name = plan_option_name(option)
        if needy and not option.covers_distance:
            found.append(told("against_distance", option=name))
        else:
            found += _against_posture(name, option, reached)
        found.append(
            told(
                "against_hours",
                option=name,
                comfortable_h=written_h(option.comfortable_h),
                strained_h=written_h(option.strained_h),
                not_served_h=written_h(option.not_served_h),
                reserve_h=written_h(option.reserve_h),
            )
        )
    return tuple(found)


def _is_asked_about(option: OptionResult) -> bool:
    """Whether a wearer asks why not this one: the pair at hand, a progressive, a screen pair."""
    kind = KINDS[option.kind]
    return option.option == plans.PRESENT or kind.is_progressive or kind.is_screen_pair


def plan_option_name(option: OptionResult) -> str:
    """What the optician calls an option."""
    return option_name(option.option, option.kind)


def written_h(hours: float) -> str:
    """Hours as a person would say them.

    >>> written_h(5.4)
    '5.4'
    >>> written_h(6.0)
    '6'
    """
    return f"{hours + 0.0:.1f}".removesuffix(".0")


def _decided(choice: Choice) -> Iterator[Told]:
    if choice.decided_by == "hours" or len(choice.close) < 2:
        return
    values: dict[str, object] = {}
    if choice.decided_by == "reserve":
        values["reserve_h"] = written_h(choice.plan.hours.reserve)
    if choice.decided_by == "one_posture":
        values["share"] = round(100.0 * choice.plan.one_posture_share)
    yield told(f"decided_{choice.decided_by}", **values)


def _postures(case: Case, plan: Plan, options: Sequence[OptionResult]) -> Iterator[Told]:
    """The chin-up at the centre of what the first pair is worn for most, screens before others."""
    option, activities = plan.pairs[0]
    hours = plans.hours_by_target(activities)
    if not hours:
        return
    screens = {one.name for one in case.targets if one.kind == "screen"}
    most = max(hours, key=lambda name: (name in screens, hours[name]))
    first = next(one for one in options if one.option == option.option)
    target = next(one for one in first.targets if one.target == most)
    row = _centre(target)
    if row.chin_up_deg is not None:
        yield told(
            "keeps_free_posture",
            target=target.target,
            chin=chin_words(chin_up_deg=row.chin_up_deg),
            free=chin_words(chin_up_deg=row.free_chin_up_deg),
        )


def _reached(chosen: Sequence[OptionResult]) -> dict[str, float]:
    """The comfortable share of each target through the better of the chosen pairs."""
    found: dict[str, float] = {}
    for target in (target for option in chosen for target in option.targets):
        found[target.target] = max(found.get(target.target, 0.0), target.comfortable_share)
    return found


def _against_posture(
    name: str, option: OptionResult, reached: Mapping[str, float]
) -> Iterator[Told]:
    """The first target not mostly comfortable where the chosen pairs do better, and its posture."""
    poor = [
        target
        for target in option.targets
        if target.comfortable_share < min(0.5, reached[target.target])
    ]
    if not poor:
        return
    row = _centre(poor[0])
    if row.chin_up_deg is None:
        yield told("against_blurred", option=name, target=poor[0].target)
    elif row.chin_up_deg - row.free_chin_up_deg >= 2.0:
        yield told(
            "against_chin_up",
            option=name,
            target=poor[0].target,
            chin=chin_words(chin_up_deg=row.chin_up_deg),
            free=chin_words(chin_up_deg=row.free_chin_up_deg),
        )


def _centre(target: OptionTarget) -> RowResult:
    return next(row for row in target.rows if row.row == "centre")
