"""The only assembler: a case in, the whole answer out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from engine.answer import cautions, plans, reasons
from engine.answer.doubt import Contest, doubt
from engine.answer.options import Option, Solver
from engine.case.prescription_doubts import doubts
from engine.case.read import usual_range_flags
from engine.case.results import (
    FlagResult,
    Recommendation,
    Result,
    RuleOfThumb,
    RulesOfThumb,
    TargetResult,
    Usable,
)
from engine.case.scene import scene_of, usable_of
from engine.case.targets import detail_arcmin
from engine.desk import advice
from engine.lenses.families import SingleVision
from engine.optics.accommodation import focus_distance_cm, needed_add_d
from engine.optics.workstation import declination_deg
from engine.tables import Judgements

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from engine.answer.plans import Choice, Plan
    from engine.case.model import Case
    from engine.case.scene import Scene
    from engine.kernel.details import Chosen

READER_LESS_D = 0.75
"""What the rule of thumb that is compared here takes off the reading add for the computer."""


def advise(
    case: Case,
    *,
    judgements: Judgements | None = None,
    thorough: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Result:
    """The answer to a case.

    thorough: also test the answer against measuring errors and look for a free change of desk;
    without it the verdict is not_computed. progress: told the share done, 0 to 1.

    >>> from engine.case.read import build_case
    >>> eye = {"sphere_d": 0.5, "add_d": 2.0}
    >>> answer = advise(build_case({
    ...     "schema": 1, "label": "example", "wearer": {"age_years": 54, "right": eye, "left": eye},
    ...     "targets": [{"name": "screen", "kind": "screen", "distance_cm": 65,
    ...                  "top_above_eye_cm": 5, "diagonal_in": 27, "aspect": "16:9",
    ...                  "text_height_mm": 3.2}],
    ...     "activities": [{"name": "desk", "hours": 6,
    ...                     "looks": [{"target": "screen", "share": 1.0}]}]}))
    >>> answer.recommendation.plan
    'sv_computer'
    """
    judged = judgements or Judgements.standard()
    usable_d, basis = usable_of(case, judgements=judged)
    scene = scene_of([case], judgements=judged)
    stops = cautions.stops(case, judgements=judged)
    solver = Solver(case, scene, judged)
    options = [] if stops else solver.options()
    contest, choice, made = compete(solver, options)
    recommendation = _recommendation(solver, options, choice, bool(stops))
    if thorough and choice is not None:
        recommendation = _tested(contest, choice, recommendation, progress)
    return Result(
        case_digest=case.digest(),
        usable_accommodation_d=Usable(value=usable_d, basis=basis),
        provisional=basis == "age",
        flags=_flags(case, judged),
        stops=stops,
        targets=_targets(case, scene, usable_d),
        options=tuple(option.result for option in options),
        cautions=cautions.case_cautions(case, judgements=judged),
        plans=tuple(plan.result() for plan in made),
        recommendation=recommendation,
    )


def compete(
    solver: Solver, options: Sequence[Option]
) -> tuple[Contest, Choice | None, tuple[Plan, ...]]:
    """Every plan, the one to recommend, and the contest of those that may be recommended.

    Plans come with the recommended one first, then by comfortable hours.
    """
    case, judged = solver.case, solver.judgements
    singles = plans.one_pair_plans(case, [option.solved for option in options])
    alone = [plan for plan in singles if _may(options, plan)]
    best_single_h = max((plan.hours.comfortable for plan in alone), default=0.0)
    pairable = [option.solved for option in options if _may_share(option)]
    doubles = plans.two_pair_plans(case, pairable, best_single_h=best_single_h, judgements=judged)
    choice = plans.choose(case, [*alone, *doubles], judgements=judged)
    first = [] if choice is None else [choice.plan]
    by_hours = sorted((*singles, *doubles), key=lambda plan: -plan.hours.comfortable)
    made = (*first, *(plan for plan in by_hours if plan not in first))
    lenses = {option.solved.option: option.lens for option in options}
    contest = Contest(
        case=case,
        scene=solver.scene,
        judgements=judged,
        lenses=lenses,
        plans=_without_twins([plan for plan in made if plan in alone or plan in doubles], lenses),
    )
    return contest, choice, made


def _without_twins(made: Sequence[Plan], lenses: Mapping[str, Chosen]) -> tuple[Plan, ...]:
    """Plans with the same lenses under other names left out: +1.50 for the screen and for near.

    Of twins the first stays, but one with the pair worn today takes its place: it is at hand.
    """
    found: dict[tuple[object, ...], Plan] = {}
    for plan in made:
        worn = tuple(_same_lens(lenses[option.option]) for option, _ in plan.pairs)
        at_hand = any(option.option == plans.PRESENT for option, _ in plan.pairs)
        if worn not in found or (at_hand and found[worn] is not made[0]):
            found[worn] = plan
    return tuple(found.values())


def _same_lens(lens: Chosen) -> object:
    return lens.free_d if isinstance(lens.family, SingleVision) else (lens.family, lens.free_d)


def _may(options: Sequence[Option], plan: Plan) -> bool:
    may = {option.solved.option: option.result.recommendable for option in options}
    return all(may[option.option] for option, _ in plan.pairs)


def _may_share(option: Option) -> bool:
    """Whether an option may be recommended beside another pair that takes the distance needs."""
    told = [caution.id for caution in option.result.cautions]
    met = set(cautions.excludes(told)) - set(cautions.excludes(told, with_another_pair=True))
    return not set(option.result.excluded_by) - met


def _tested(
    contest: Contest,
    choice: Choice,
    recommendation: Recommendation,
    progress: Callable[[float], None] | None,
) -> Recommendation:
    """The recommendation with how sure it is, and a free change of desk where one does."""
    found = doubt(contest, progress=progress)
    verdict = found.verdict
    if contest.case.wearer.add_d is None and verdict == "firm":
        verdict = "depends"
    move = advice.desk_first(contest, choice.plan)
    change = advice.what_would_change(contest, found)
    if move is None:
        change += advice.moved_gain(contest, choice.plan)
    return recommendation.model_copy(
        update={
            "verdict": verdict,
            "winner_share": found.winner_share,
            "depends_on": found.depends_on,
            "desk_first": move,
            "what_would_change": change,
        }
    )


def _flags(case: Case, judgements: Judgements) -> tuple[FlagResult, ...]:
    found = usual_range_flags(case)
    found += doubts(
        case.wearer.prescription, age_years=case.wearer.age_years, judgements=judgements
    )
    return tuple(
        FlagResult(field=flag.field, value=flag.value, range=flag.range, source=flag.source)
        for flag in found
    )


def _targets(case: Case, scene: Scene, usable_d: float) -> tuple[TargetResult, ...]:
    found = []
    for index, target in enumerate(case.targets):
        points = np.flatnonzero((scene.point_target == index) & scene.middle)
        centre = points[len(points) // 2]
        level = np.hypot(scene.forward_mm[centre], scene.right_mm[centre])
        demand_d = float(scene.demand_d[centre])
        found.append(
            TargetResult(
                target=target.name,
                distance_cm=target.distance_cm,
                demand_d=demand_d,
                needed_add_d=float(needed_add_d(demand_d=demand_d, usable_d=usable_d)),
                relaxed_add_d=demand_d,
                declination_deg=float(
                    declination_deg(below_eye_cm=-scene.up_mm[centre], horizontal_cm=level)
                ),
                blur_limit_d=float(scene.limit_d[index]),
                text_arcmin=detail_arcmin(target),
                rules_of_thumb=_rules_of_thumb(case.wearer.add_d, target.distance_cm, demand_d),
            )
        )
    return tuple(found)


def _rules_of_thumb(
    add_d: float | None, distance_cm: float, demand_d: float
) -> RulesOfThumb | None:
    if add_d is None:
        return None

    def rule(power_d: float) -> RuleOfThumb:
        focus = float(focus_distance_cm(added_power_d=max(power_d, 0.0)))
        known = np.isfinite(focus)
        return RuleOfThumb(
            focus_cm=focus if known else None,
            error_cm=focus - distance_cm if known else None,
            error_d=power_d - demand_d,
        )

    return RulesOfThumb(half_add=rule(add_d / 2), reader_minus_075=rule(add_d - READER_LESS_D))


def _recommendation(
    solver: Solver, options: Sequence[Option], choice: Choice | None, stopped: bool
) -> Recommendation:
    case = solver.case
    if choice is None:
        reason = plans.told("stopped" if stopped else "none_possible")
        return Recommendation(plan=None, verdict="not_computed", reasons=(reason,))
    told = tuple(option.result for option in options)
    why = reasons.reasons_for(case, told, choice, judgements=solver.judgements)
    if case.wearer.add_d is None:
        why += (plans.told("provisional"),)
    why += solver.more_plus(choice)
    why += reasons.reasons_against(case, told, choice)
    return Recommendation(plan=choice.plan.name, verdict="not_computed", reasons=why)
