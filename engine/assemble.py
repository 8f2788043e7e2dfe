"""The only assembler: a case in, the whole answer out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from engine.answer import cautions, doubt, reasons
from engine.answer.options import PRESENT, Solver, accepted_kinds
from engine.answer.plans import told
from engine.answer.recommend import answered
from engine.case.prescription_doubts import doubts
from engine.case.read import usual_range_flags
from engine.case.results import (
    FlagResult,
    MoveResult,
    Recommendation,
    Result,
    RuleOfThumb,
    RulesOfThumb,
    TargetResult,
    Usable,
)
from engine.case.scene import usable_of
from engine.case.targets import detail_arcmin
from engine.desk.moves import best_move, hours_after
from engine.desk.places import moved
from engine.optics.accommodation import focus_distance_cm, needed_add_d
from engine.optics.workstation import declination_deg
from engine.tables import Judgements
from engine.wording import capital, hours
from engine.wording import move as do_move

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from engine.answer.options import Option
    from engine.answer.plans import Plan
    from engine.answer.recommend import Answered
    from engine.case.model import Case
    from engine.case.results import Told
    from engine.case.scene import Scene
    from engine.desk.moves import Move

READER_LESS_D = 0.75
"""What the rule of thumb that is compared here takes off the reading add for the computer."""


def advise(
    case: Case,
    *,
    judgements: Judgements | None = None,
    progress: Callable[[float], None] | None = None,
) -> Result:
    """Return the whole answer to a case: hours, plans, how sure, free moves, what to measure.

    progress: told the share done, 0 to 1.

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
    tell = progress or (lambda _: None)
    judged = judgements or Judgements.standard()
    stops = cautions.stops(case, judgements=judged)
    solver = Solver(case, judged)
    options = [] if stops else solver.options(progress=lambda done: tell(0.6 * done))
    found = answered(case, options, judgements=judged)
    usable_d, basis = usable_of(case, judgements=judged)
    recommendation = _recommendation(solver, options, found, is_stopped=bool(stops), tell=tell)
    return Result(
        case_digest=case.digest(),
        usable_accommodation_d=Usable(value=usable_d, basis=basis),
        provisional=basis == "age",
        flags=_flags(case, judged),
        stops=stops,
        targets=_targets(case, solver.desk.measured.scene, usable_d),
        options=tuple(option.result for option in options),
        cautions=cautions.case_cautions(case, judgements=judged),
        plans=tuple(plan.result() for plan in found.in_order()),
        recommendation=recommendation,
    )


def _recommendation(
    solver: Solver,
    options: Sequence[Option],
    found: Answered,
    *,
    is_stopped: bool,
    tell: Callable[[float], None],
) -> Recommendation:
    """Return what to do, how sure and why; options: all, most hours first."""
    case, judged, plan = solver.case, solver.judgements, found.plan
    told_options = tuple(option.result for option in options)
    if plan is None:
        why = [told(_why_none(solver, is_stopped))]
        share = judged.enough_of_day_share
        why += [] if is_stopped else _too_small(solver)
        why += reasons.at_hand_is_enough(case, options, enough_share=share)
        return Recommendation(plan=None, verdict="not_computed", reasons=tuple(why))
    contest = found.contest
    tell(0.7)
    moves = tuple(_moves(solver, found, plan))
    tell(0.95)
    worth = doubt.worth_measuring(contest, solver.draws.inputs(), judgements=judged)
    put_first = next((move.plan for move in moves if move.put_first), plan.name)
    share = contest.clearly_better_share
    why = [*reasons.reasons_for(found), *_more_plus(solver, plan), *_too_small(solver)]
    return Recommendation(
        plan=put_first,
        put_first_by="free_move" if put_first != plan.name else found.rule,
        verdict=doubt.verdict(share, judgements=judged),
        clearly_better_share=share,
        expected_loss_h=contest.expected_loss_h,
        as_good=reasons.as_good(found),
        more_hours=reasons.more_hours(found),
        moves=moves,
        measure_next=reasons.measure_next(case, worth),
        reasons=(*why, *reasons.reasons_against(case, told_options, plan)),
    )


def _why_none(solver: Solver, is_stopped: bool) -> str:
    """Return the id of the reason why nothing is recommended."""
    if is_stopped:
        return "stopped"
    return "no_add" if np.isnan(solver.add_d) else "none_possible"


def _too_small(solver: Solver) -> Iterator[Told]:
    """Return the hours that go to small text or detail, through any lens."""
    return reasons.too_small(
        solver.case,
        solver.desk.too_small_h.tolist(),
        legible_arcmin=solver.judgements.legible_arcmin,
    )


def _more_plus(solver: Solver, plan: Plan) -> Iterator[Told]:
    """Tell whether more near power than prescribed would bring enough to ask the prescriber."""
    if plan.is_two or not plan.options[0].is_new:
        return
    kind = plan.options[0].lens.kind
    gain_h = solver.more_plus_h(kind, now_h=plan.options[0].result.as_measured.comfortable_h)
    if gain_h >= solver.judgements.more_plus_worth_h:
        yield told("more_plus", gain_h=hours(gain_h))


def _moves(solver: Solver, found: Answered, plan: Plan) -> Iterator[MoveResult]:
    """Yield the best free change at the desk, for the pair at hand and for the plan put first."""
    at_hand = next((one for one in found.competing if one.name == PRESENT), None)
    if at_hand is not None and at_hand is not plan:
        move = best_move(at_hand, solver.draws)
        if move is not None:
            comes_first = _comes_first(solver, found, at_hand, plan, move)
            yield _move_result(at_hand, move, put_first=comes_first, best=plan)
    move = best_move(plan, solver.draws)
    if move is not None:
        yield _move_result(plan, move, put_first=False, best=None)


def _comes_first(solver: Solver, found: Answered, at_hand: Plan, plan: Plan, move: Move) -> bool:
    """Tell whether the pair at hand is the plan to choose once the desk is moved.

    plan: the one to choose as the desk stands. Mostly its lens, held there, settles it: the design
    chosen there may have as much less as counts for the same.
    """
    case, judged = solver.case, solver.judgements
    most_h = max(one.comfortable_h for one in found.competing)
    liked_h = judged.owned_share_of_day * case.day_h
    if move.after_h < most_h - max(liked_h, judged.second_pair_earns_h):
        return False
    more_h = hours_after(plan, move) - move.after_h
    if found.outdoes(plan, at_hand, by_h=more_h - judged.same_design_h):
        return False
    there = moved(case, move.index, move.place)
    searched = Solver(there, judged, like=solver.draws, kinds=accepted_kinds(case))
    chosen = answered(there, searched.options(), judgements=judged).plan
    return chosen is not None and chosen.name == at_hand.name


def _move_result(plan: Plan, move: Move, *, put_first: bool, best: Plan | None) -> MoveResult:
    case = plan.case
    target = case.targets[move.index]
    sentence = told(
        "move_told",
        move=capital(do_move(f"the {target.name}", **move.change.model_dump())),
        after_h=hours(move.after_h),
        day_h=hours(case.day_h),
        plan=reasons.plan_name(plan),
        before_h=hours(move.before_h),
    ).text
    if best is not None:
        values = {
            "best": reasons.plan_name(best),
            "best_h": hours(best.comfortable_h),
        }
        sentence = f"{sentence} {told('move_best', **values).text}"
    return MoveResult(
        target=target.name,
        change=move.change,
        plan=plan.name,
        before_h=move.before_h,
        after_h=move.after_h,
        put_first=put_first,
        text=sentence,
    )


def _flags(case: Case, judgements: Judgements) -> tuple[FlagResult, ...]:
    """Return every doubt about a value of the case that is computed with."""
    found = usual_range_flags(case)
    found += doubts(
        case.wearer.prescription, age_years=case.wearer.age_years, judgements=judgements
    )
    return tuple(
        FlagResult(field=flag.field, value=flag.value, range=flag.range, source=flag.source)
        for flag in found
    )


def _targets(case: Case, scene: Scene, usable_d: float) -> tuple[TargetResult, ...]:
    """Return what each target asks for at its centre; scene: as measured."""
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
    """Return what two rules of thumb would order for a target; None without an add."""
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
