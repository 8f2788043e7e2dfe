"""The only assembler: a case in, the whole answer out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from engine import cautions, plans, reasons
from engine.accommodation import focus_distance_cm
from engine.case_input import usual_range_flags
from engine.options import Option, Solver
from engine.prescription_doubts import doubts
from engine.results import (
    FlagResult,
    Recommendation,
    Result,
    RuleOfThumb,
    RulesOfThumb,
    TargetResult,
    Usable,
)
from engine.scene import detail_arcmin, scene_of, usable_of
from engine.tables import Judgements
from engine.workstation import declination_deg

if TYPE_CHECKING:
    from engine.case import Case
    from engine.plans import Choice, Plan
    from engine.scene import Scene

READER_LESS_D = 0.75
"""What a rule of thumb takes off the reading add for the computer (job page section 4)."""


def advise(case: Case, *, judgements: Judgements | None = None) -> Result:
    """The answer to a case.

    >>> from pathlib import Path
    >>> from engine.case_input import build_case
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
    usable_d, basis = usable_of(case.wearer, vertex_mm=case.fit.vertex_mm, judgements=judged)
    scene = scene_of([case], judgements=judged)
    stops = cautions.stops(case, judgements=judged)
    solver = Solver(case, scene, judged)
    options = [] if stops else solver.options()
    choice, made = _plans(case, options, judged)
    return Result(
        case_digest=case.digest(),
        usable_accommodation_d=Usable(value=usable_d, basis=basis),
        provisional=basis == "age",
        flags=_flags(case),
        stops=stops,
        targets=_targets(case, scene, usable_d),
        options=tuple(option.result for option in options),
        cautions=cautions.case_cautions(case, judgements=judged),
        plans=tuple(plan.result() for plan in made),
        recommendation=_recommendation(case, options, choice, bool(stops), solver),
    )


def _flags(case: Case) -> tuple[FlagResult, ...]:
    found = usual_range_flags(case)
    found += doubts(case.wearer.prescription, age_years=case.wearer.age_years)
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
                needed_add_d=max(0.0, demand_d - usable_d),
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


def _plans(
    case: Case, options: list[Option], judgements: Judgements
) -> tuple[Choice | None, tuple[Plan, ...]]:
    may = {option.solved.option: option.result.recommendable for option in options}
    made = plans.one_pair_plans(case, [option.solved for option in options])
    choice = plans.choose(
        case,
        made,
        allowed=lambda plan: all(may[option.option] for option, _ in plan.pairs),
        judgements=judgements,
    )
    return choice, made


def _recommendation(
    case: Case,
    options: list[Option],
    choice: Choice | None,
    stopped: bool,
    solver: Solver,
) -> Recommendation:
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
