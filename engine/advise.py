"""The only assembler: a case in, the whole answer out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from engine import cautions, plans, reasons
from engine.accommodation import focus_distance_cm, usual_add_d
from engine.case_input import usual_range_flags
from engine.details import Chosen, Closeup
from engine.lens_families import Points
from engine.lenses import KINDS, Kind
from engine.prescription_doubts import doubts
from engine.results import (
    FlagResult,
    OptionResult,
    Recommendation,
    Result,
    RuleOfThumb,
    RulesOfThumb,
    TargetResult,
    Usable,
)
from engine.scene import detail_arcmin, scene_of, usable_of
from engine.search import Shares, Views, best_columns, candidates, equivalent_columns, shares
from engine.tables import Judgements
from engine.workstation import declination_deg

if TYPE_CHECKING:
    from engine.case import Case, Design
    from engine.plans import Choice, Plan, Solved
    from engine.results import OptionTarget, Told
    from engine.scene import Scene

READER_LESS_D = 0.75
"""What a rule of thumb takes off the reading add for the computer (job page section 4)."""
HIGHEST_ADD_D = 4.0
MORE_PLUS_D = (0.25, 0.50)
"""How much more near power is tried before the prescriber is asked."""


@dataclass(frozen=True)
class _Option:
    """One option on its way: what was found, and how it is told."""

    solved: Solved
    result: OptionResult


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
    solver = _Solver(case, scene, judged)
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


class _Solver:
    """The options of one case."""

    def __init__(self, case: Case, scene: Scene, judgements: Judgements) -> None:
        self.case, self.scene, self.judgements = case, scene, judgements
        self.views = Views(scene, judgements)
        names = tuple(target.name for target in case.targets)
        self.closeup = Closeup(scene, names, judgements)
        add_d = case.wearer.add_d
        self.add_d = float(usual_add_d(age_years=case.wearer.age_years)) if add_d is None else add_d

    def options(self) -> list[_Option]:
        """Every kind that can be made, and the pair worn today, most comfortable hours first."""
        found = [self._best_of(kind) for kind in KINDS.values()]
        found.append(self._present())
        made = [option for option in found if option is not None]
        order = {option.solved.option: place for place, option in enumerate(made)}
        return sorted(
            made,
            key=lambda one: (
                -round(one.result.comfortable_h, 6),
                -round(one.result.reserve_h, 6),
                order[one.solved.option],
            ),
        )

    def _best_of(self, kind: Kind) -> _Option | None:
        if self.case.wearer.add_d is None and kind.id != "sv_distance":
            return None
        found = candidates(self.views, kind)
        column = int(
            best_columns(found, judgements=self.judgements, liked_corridor_mm=self._liked())[0]
        )
        if column < 0:
            return self._too_shallow(kind)
        add_d, family = self.add_d, found.families[found.family[column]]
        equivalents = equivalent_columns(found, wearer=0, judgements=self.judgements)
        return self._option(
            option=kind.id,
            chosen=Chosen(kind, family, float(found.free_d[0, column])),
            equivalents=tuple(
                found.design(one, wearer=0, add_d=add_d) for one in equivalents if one != column
            ),
            excluded=(),
        )

    def _too_shallow(self, kind: Kind) -> _Option | None:
        """A general progressive no corridor of which the frame takes: computed, not recommended."""
        if kind.id != "general_progressive":
            return None
        family = kind.families(self.judgements)[0]
        return self._option(
            option=kind.id,
            chosen=Chosen(kind, family, 0.0),
            equivalents=(),
            excluded=("frame_too_shallow",),
        )

    def _liked(self) -> np.ndarray[tuple[int], np.dtype[np.float64]] | None:
        present = self.case.present_pair
        if present is None or not present.liked or present.design.corridor_mm is None:
            return None
        return np.array([present.design.corridor_mm])

    def _present(self) -> _Option | None:
        present = self.case.present_pair
        if present is None:
            return None
        kind = KINDS[present.kind]
        family, free_d = kind.worn(present.design, add_d=self.add_d, judgements=self.judgements)
        if np.isnan(free_d):
            free_d = float(self.scene.wearers.unaided_power_d[0])
        return self._option(
            option=plans.PRESENT,
            chosen=Chosen(kind, family, free_d),
            equivalents=(),
            excluded=(),
        )

    def more_plus(self, choice: Choice) -> tuple[Told, ...]:
        """Whether more near power than prescribed would bring enough to ask the prescriber."""
        wearers, worth_h = self.scene.wearers, self.judgements.more_plus_worth_h
        if self.case.wearer.add_d is None or len(choice.plan.pairs) > 1:
            return ()
        option = choice.plan.pairs[0][0]
        now_h, gains = choice.plan.hours.comfortable, [0.0]
        for more_d in MORE_PLUS_D:
            add_d = np.minimum(wearers.add_d + more_d, HIGHEST_ADD_D)
            scene = replace(self.scene, wearers=replace(wearers, add_d=add_d))
            found = candidates(Views(scene, self.judgements), KINDS[option.kind])
            if found.comfortable_h.size:
                gains.append(float(np.nanmax(found.comfortable_h)) - now_h)
        if max(gains) < worth_h:
            return ()
        return (plans.told("more_plus", gain_h=reasons.written_h(max(gains))),)

    def _option(
        self,
        *,
        option: str,
        chosen: Chosen,
        equivalents: tuple[Design, ...],
        excluded: tuple[str, ...],
    ) -> _Option:
        kind = chosen.kind
        found = shares(self.views, kind, chosen.family, np.array([chosen.free_d]))
        targets = self.closeup.targets(chosen, found)
        solved = plans.Solved(
            option=option,
            kind=kind.id,
            design=chosen.family.design(add_d=self.add_d, free_d=chosen.free_d),
            covers_distance=self._covers(chosen),
            shares=_by_name(targets, found),
            one_posture={target.target: target.one_posture_share for target in targets},
        )
        hours = plans.NO_HOURS
        for activity in self.case.activities:
            hours += solved.hours_in(activity)
        result = OptionResult(
            option=option,
            kind=kind.id,
            design=solved.design,
            equivalent_designs=equivalents,
            recommendable=True,
            comfortable_h=hours.comfortable,
            strained_h=hours.strained,
            not_served_h=hours.not_served,
            reserve_h=hours.reserve,
            covers_distance=solved.covers_distance,
            targets=targets,
        )
        return _Option(solved, self._cautioned(result, excluded))

    def _cautioned(self, result: OptionResult, excluded: tuple[str, ...]) -> OptionResult:
        said = cautions.option_cautions(self.case, result, judgements=self.judgements)
        excluded += tuple(one for one in cautions.excludes([told.id for told in said]))
        lined = KINDS[result.kind].is_lined
        if lined and result.option != plans.PRESENT and not self.case.wearer.accepts_lined:
            excluded += ("line_not_accepted",)
        return result.model_copy(
            update={
                "cautions": said,
                "excluded_by": tuple(dict.fromkeys(excluded)),
                "recommendable": not excluded,
            }
        )

    def _covers(self, chosen: Chosen) -> bool:
        """Clear distance from the fitting point up to 10 mm above it."""
        heights = np.linspace(0.0, self.judgements.clear_distance_up_mm, 21)[None, :]
        one = np.ones((1, 1))
        points = Points(x_mm=0.0 * heights, y_mm=heights, zone_width=one, down_mm=0.0 * one)
        found = chosen.family.field(points, self.scene.wearers.as_columns())
        power = np.broadcast_to(found.offset_d, heights.shape) + (
            chosen.free_d if found.held is None else np.where(found.held, 0.0, chosen.free_d)
        )
        limit_d = self.judgements.clear_distance_added_d
        return plans.covers_distance(chosen.kind.id, list(power[0]), limit_d)


def _by_name(
    targets: tuple[OptionTarget, ...], found: Shares
) -> dict[str, tuple[float, float, float, float]]:
    parts = zip(found.comfortable, found.strained, found.not_served, found.reserve, strict=True)
    return {
        target.target: (float(a), float(b), float(c), float(d))
        for target, (a, b, c, d) in zip(targets, parts, strict=True)
    }


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
    case: Case, options: list[_Option], judgements: Judgements
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
    options: list[_Option],
    choice: Choice | None,
    stopped: bool,
    solver: _Solver,
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
