"""Why: each sentence of a recommendation, filled in from a table, with the values it names."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from engine.answer.choice import RULES
from engine.answer.options import PRESENT
from engine.answer.plans import competing, option_name, told
from engine.answer.recommend import MOST_NAMED
from engine.case.results import AsGood, MeasureNext, MoreHours
from engine.case.targets import hours_on, is_text, least_text_mm, text_height_mm
from engine.lenses.kinds import KINDS
from engine.units import CM_PER_M
from engine.wording import capital, chin, hours, number, tenth, unit_after

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from engine.answer.doubt import Worth
    from engine.answer.options import Option
    from engine.answer.plans import Plan
    from engine.answer.recommend import Answered
    from engine.case.model import Case
    from engine.case.results import OptionResult, Told

_TIE = 1e-9
_PERCENT = 100
SAID_BY_HOURS = ("", "hours", "first")
"""Rules that the sentence of the hours has told already."""


def reasons_for(answered: Answered) -> tuple[Told, ...]:
    """Return why this plan: its hours, what decided, what posture it asks for."""
    plan, case = answered.plan, answered.case
    if plan is None:
        return ()
    best = max(answered.competing, key=lambda one: one.comfortable_h)
    values = {
        "option": plan_name(plan),
        "comfortable_h": hours(plan.comfortable_h),
        "day_h": hours(case.day_h),
    }
    if best.comfortable_h <= plan.comfortable_h + answered.judgements.more_hours_h / 2:
        found = [told("most_hours", **values)]
    elif best.comfortable_h <= plan.comfortable_h + answered.near_h:
        best_h = hours(best.comfortable_h)
        found = [told("as_good_hours", **values, best_h=best_h, best=plan_name(best))]
    else:
        found = [told("enough_hours", **values)]
    rules = [answered.behind_by(one) for one in answered.as_good[:MOST_NAMED]]
    rule = max(rules, key=RULES.index, default="")
    if rule not in SAID_BY_HOURS:
        found.append(told("decided", option=plan_name(plan), because=_because(rule, plan)))
    found += [*_posture(case, plan), *_one_pair(answered, plan)]
    return tuple(found)


def _one_pair(answered: Answered, first: Plan) -> Iterator[Told]:
    """Yield what two pairs would bring, where one is wanted."""
    case = answered.case
    if not case.wearer.wants_one_pair:
        return
    either = case.wearer.model_copy(update={"wants_one_pair": False})
    may = competing(
        case.model_copy(update={"wearer": either}), answered.plans, judgements=answered.judgements
    )
    two = [plan for plan, ok in zip(answered.plans, may, strict=True) if ok and plan.is_two]
    best = max(two, key=lambda plan: plan.comfortable_h, default=first)
    more_h = best.comfortable_h - first.comfortable_h
    if more_h > answered.near_h:
        yield told("one_pair_wanted", plan=plan_name(best), more_h=hours(more_h))


def as_good(answered: Answered) -> tuple[AsGood, ...]:
    """Name the other plans that are near the most hours, and what put them behind."""
    first = answered.plan
    if first is None:
        return ()
    found = []
    for plan in answered.as_good[:MOST_NAMED]:
        rule = answered.behind_by(plan)
        sentence = told(
            "as_good",
            plan=plan_name(plan),
            hours_h=hours(plan.comfortable_h),
            first=capital(plan_name(first)),
            because=_because(rule, first),
        )
        found.append(
            AsGood(
                plan=plan.name, comfortable_h=plan.comfortable_h, behind_by=rule, text=sentence.text
            )
        )
    return tuple(found)


def more_hours(answered: Answered) -> tuple[MoreHours, ...]:
    """Return the plans that bring more than the one put first and were not worth their price."""
    first = answered.plan
    if first is None:
        return ()
    better = sorted(
        answered.with_more_hours, key=lambda plan: (plan.new_pairs, -plan.comfortable_h)
    )
    found: list[Plan] = []
    for plan in better:
        if all(plan.comfortable_h > one.comfortable_h + answered.near_h for one in found):
            found.append(plan)
    return tuple(_more_hours(plan, first) for plan in found[:MOST_NAMED])


def _more_hours(plan: Plan, first: Plan) -> MoreHours:
    more_h, new = plan.comfortable_h - first.comfortable_h, plan.new_pairs
    identity = "more_hours_bought" if new else "more_hours_owned"
    values = {"plan": plan_name(plan), "more_h": hours(more_h)}
    if new:
        values["pairs"] = "a new pair" if new == 1 else "two new pairs"
    return MoreHours(
        plan=plan.name,
        comfortable_h=plan.comfortable_h,
        more_h=more_h,
        new_pairs=new,
        text=told(identity, **values).text,
    )


def measure_next(case: Case, worth: Sequence[Worth]) -> tuple[MeasureNext, ...]:
    """Return what to measure, with what knowing it saves."""
    found = []
    for one in worth:
        identity = "measure_first" if one.input.assumed else "measure_again"
        measure = capital(measurement_words(case, one.input.field))
        text = told(identity, measure=measure, worth_h=hours(one.worth_h)).text
        if one.turns_at is not None and one.input.unit:
            value = _value_words(one.turns_at, one.input.field, one.input.unit)
            text = f"{text} {told('turns_at', value=value).text}"
        found.append(
            MeasureNext(
                field=one.input.field,
                worth_h=one.worth_h,
                turns_at=one.turns_at,
                unit=one.input.unit,
                assumed=one.input.assumed,
                text=text,
            )
        )
    return tuple(found)


def too_small(case: Case, lost_h: Sequence[float], *, legible_arcmin: float) -> Iterator[Told]:
    """Say the hours lost to small text and to no lens, with the size of text that mends it.

    lost_h: expected, of each target. Of text that is large enough as measured nothing is said.
    """
    for target, each_h in zip(case.targets, lost_h, strict=True):
        values = {"target": target.name, "hours_h": hours(float(each_h))}
        if values["hours_h"] == "0":
            continue
        if not is_text(target):
            yield told("small_detail", **values)
            continue
        needed_mm = least_text_mm(target, arcmin=legible_arcmin)
        percent = 10 * ceil(10.0 * needed_mm / text_height_mm(target))
        if percent > _PERCENT:
            yield told("small_text", **values, percent=f"{percent}", needed_mm=f"{needed_mm:.1f}")


def at_hand_is_enough(
    case: Case, options: Sequence[Option], *, enough_share: float
) -> Iterator[Told]:
    """Tell that what the wearer has gives most of the day, where it does."""
    at_hand = [one for one in options if not one.is_new]
    best = max(at_hand, key=lambda one: one.result.comfortable_h, default=None)
    if best is not None and best.result.comfortable_h >= enough_share * case.day_h - _TIE:
        yield told(
            "at_hand_is_enough",
            option=option_name(best.result),
            comfortable_h=hours(best.result.comfortable_h),
            day_h=hours(case.day_h),
        )


def _because(rule: str, first: Plan) -> str:
    """Return why the plan put first came before one that a rule put behind."""
    if rule != "shows_more":
        return told(f"because_{rule or 'first'}").text
    unswapped_h = first.if_not_swapped_h
    if unswapped_h is not None:
        return told("because_shows_unswapped", hours_h=hours(unswapped_h)).text
    far_cm = first.options[0].result.sees_to_cm
    if far_cm is None:
        return told("because_shows_far").text
    return told("because_shows_room", far_m=tenth(far_cm / CM_PER_M)).text


def reasons_against(case: Case, options: Sequence[OptionResult], plan: Plan) -> tuple[Told, ...]:
    """Return why not the others a wearer asks about; plan: the one put first."""
    chosen = {option.name for option in plan.options}
    reached = _reached([option for option in options if option.option in chosen])
    needy = any(activity.needs for activity in case.activities)
    found: list[Told] = []
    for option in options:
        if not _is_asked_about(option) or option.option in chosen:
            continue
        name = option_name(option)
        if needy and not option.covers_distance:
            found.append(told("against_distance", option=name))
        else:
            found += _against_posture(name, option, reached)
        found.append(
            told(
                "against_hours",
                option=name,
                comfortable_h=hours(option.comfortable_h),
                awkward_h=hours(option.awkward_h),
                blurred_h=hours(option.blurred_h),
                not_served_h=hours(option.not_served_h),
            )
        )
    return tuple(found)


def _is_asked_about(option: OptionResult) -> bool:
    """Tell whether a wearer asks "why not this": the pair at hand, a progressive, a screen pair."""
    kind = KINDS[option.kind]
    return option.option == PRESENT or kind.is_progressive or kind.is_screen_pair


def plan_name(plan: Plan) -> str:
    """Return what the optician calls a plan."""
    return " + ".join(option_name(option.result) for option in plan.options)


def _posture(case: Case, plan: Plan) -> Iterator[Told]:
    """Yield the chin-up at the centre of what a pair is worn for most, screens before others."""
    screens = {one.name for one in case.targets if one.kind == "screen"}
    spent_h = {
        (place, target.name): hours_on(target.name, plan.worn_for(place))
        for place in range(len(plan.options))
        for target in case.targets
    }
    place, name = max(spent_h, key=lambda at: (at[1] in screens and spent_h[at] > 0.0, spent_h[at]))
    if spent_h[place, name] <= 0.0:
        return
    target = next(one for one in plan.options[place].result.targets if one.target == name)
    row = target.centre
    if row.chin_up_deg is not None:
        is_free = chin(row.chin_up_deg) == chin(row.free_chin_up_deg)
        yield told(
            "keeps_free_posture" if is_free else "moves_posture",
            option=option_name(plan.options[place].result),
            target=target.target,
            chin=chin(row.chin_up_deg),
            free=chin(row.free_chin_up_deg),
        )


def _reached(chosen: Sequence[OptionResult]) -> dict[str, float]:
    """Return the comfortable share of each target through the better of the chosen pairs."""
    found: dict[str, float] = {}
    for target in (target for option in chosen for target in option.targets):
        found[target.target] = max(found.get(target.target, 0.0), target.comfortable_share)
    return found


def _against_posture(
    name: str, option: OptionResult, reached: Mapping[str, float]
) -> Iterator[Told]:
    """Find the first target that is not mostly comfortable where the chosen pairs do better."""
    poor = [
        target
        for target in option.targets
        if target.comfortable_share < min(0.5, reached[target.target])
    ]
    if not poor:
        return
    row = poor[0].centre
    if row.chin_up_deg is None:
        yield told("against_blurred", option=name, target=poor[0].target)
    elif row.chin_up_deg - row.free_chin_up_deg >= 2.0:
        yield told(
            "against_chin_up",
            option=name,
            target=poor[0].target,
            chin=chin(row.chin_up_deg),
            free=chin(row.free_chin_up_deg),
        )


def measurement_words(case: Case, field: str) -> str:
    """Return what to do to know an input better.

    >>> measurement_words(None, "fit.fitting_height_mm")
    'measure the fitting height'
    """
    parts = field.split(".")
    if parts[0] == "targets":
        name = case.targets[int(parts[1])].name
        return {
            "distance_cm": f"measure the distance to the {name}",
            "top_above_eye_cm": f"measure from eye level to the top of the {name}",
            "centre_above_eye_cm": f"measure from eye level to the centre of the {name}",
            "tilt_deg": f"measure the tilt of the {name}",
            "text_height_mm": f"measure the height of capitals on the {name}",
        }[parts[2]]
    return {
        "fitting_height_mm": "measure the fitting height",
        "vertex_mm": "measure the vertex distance",
        "pantoscopic_deg": "measure the pantoscopic tilt",
        "near_test_distance_cm": "ask at which distance the add was set",
        "head_zero_deg": "check that the head was upright when the fitting point was marked",
        "usable_accommodation_d": "measure the amplitude",
        "blur_tolerance": "measure the blur this wearer accepts",
        "turns": "find out whether the head or the eyes turn sideways first",
    }[parts[-1]]


def _value_words(value: float, field: str, unit: str) -> str:
    """Return a value of an input no finer than it is measured; a height with its side of the eyes.

    >>> _value_words(-3.2, "targets.0.top_above_eye_cm", "cm")
    '3 cm below the eyes'
    """
    if field.endswith("above_eye_cm"):
        above = number(abs(value))
        return (
            "eye level"
            if above == "0"
            else f"{above} cm {'above' if value > 0 else 'below'} the eyes"
        )
    places = {"D": 2, "mm": 1, "ratio": 1}.get(unit, 0)
    after = " times the usual" if unit == "ratio" else unit_after(unit)
    return f"{number(value, places=places)}{after}"
