"""What a pair does as it sits: the engine run again with the lens where it really is.

The pupil against the fitting cross, each eye in mm, becomes degrees of chin and hours of the day,
with the adjustment that mends it before any remake.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from pydantic import Field

from engine import tables
from engine.answer.held import graded_h, looked_h
from engine.case.model import Part
from engine.case.results import AsMeasured, not_served_h
from engine.case.scene import scene_of, stop_mm_of
from engine.case.targets import hours_on
from engine.kernel.details import Closeup
from engine.kernel.search import Views, shares
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens, lens_of
from engine.optics.spectacles import prentice_prism_pd
from engine.order.lens import strongest_meridian_d, with_added_power
from engine.tables import Judgements
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from engine.case.model import Case, Design
    from engine.case.results import OptionResult, OptionTarget
    from engine.case.scene import Scene

WITHIN_MM = 1.0
"""A fitting cross may be off by this (ANSI Z80.1-2015)."""
_ROUNDING = 1e-9


class CrossError(Part):
    """Where the fitting cross stands before the pupil of one eye, in mm.

    below_mm: cross below the pupil, above is negative. right_mm: towards the wearer's right.
    """

    below_mm: float = Field(0.0, strict=True, ge=-12, le=12)
    right_mm: float = Field(0.0, strict=True, ge=-12, le=12)


class TargetEffect(Part):
    """One target through the lens as ordered and as worn; chin-up None where it is never clear."""

    target: str
    chin_up_ordered_deg: float | None
    chin_up_worn_deg: float | None
    chin_change_deg: float | None
    comfortable_share_ordered: float
    comfortable_share_worn: float
    lost_h: float
    narrower_cm: float
    says: str


class WornEffect(Part):
    """What the error does to the day, and what to do first.

    The eye that loses more hours stands for both: what it cannot see clear costs the pair.
    """

    comfortable_h_ordered: float
    comfortable_h_worn: float
    lost_h: float
    vertical_imbalance_pd: float
    horizontal_prism_pd: float
    within_tolerance: bool
    targets: tuple[TargetEffect, ...]
    advice: tuple[str, ...]


@dataclass(frozen=True)
class Rerun:
    """One design on one case if nothing else is off: hours, targets and far limit."""

    as_measured: AsMeasured
    sees_to_cm: float | None

    @property
    def targets(self) -> tuple[OptionTarget, ...]:
        """The targets through it."""
        return self.as_measured.targets


def rerun(
    *,
    case: Case,
    kind: str,
    design: Design,
    covers_distance: bool,
    below_mm: float = 0.0,
    judgements: Judgements | None = None,
) -> Rerun:
    """Return one design on one case with the lens below where it was marked (above is negative)."""
    judged = judgements or Judgements.standard()
    scene = scene_of([case], judgements=judged)
    down = np.full_like(scene.wearers.lens_down_mm, below_mm)
    scene = replace(scene, wearers=replace(scene.wearers, lens_down_mm=down))
    return rerun_scene(
        case=case,
        scene=scene,
        lens=lens_of(kind, design, case, wearers=scene.wearers, judgements=judged),
        covers_distance=covers_distance,
        judgements=judged,
    )


def rerun_scene(
    *, case: Case, scene: Scene, lens: Lens, covers_distance: bool, judgements: Judgements
) -> Rerun:
    """Return the same for a scene and a lens that the caller has made."""
    found = shares(Views(scene, judgements), lens.kind, lens.family, np.array([lens.free_d]))
    names = tuple(target.name for target in case.targets)
    hours = graded_h(case, found, looked_h=looked_h(case), covers_distance=covers_distance)
    comfortable, awkward, blurred = (float(one) for one in hours.sum(axis=1))
    return Rerun(
        as_measured=AsMeasured(
            comfortable_h=comfortable,
            awkward_h=awkward,
            blurred_h=blurred,
            not_served_h=not_served_h(case.day_h, comfortable, awkward, blurred),
            targets=Closeup(scene, names, judgements).targets(lens, found),
        ),
        sees_to_cm=lens.sees_to_cm(wearers=scene.wearers),
    )


def worn_effect(
    *,
    case: Case,
    option: OptionResult,
    right: CrossError,
    left: CrossError,
    design: Design | None = None,
    judgements: Judgements | None = None,
) -> WornEffect:
    """Return what the fitting crosses before the pupils do to each target and to the day.

    design: the one that was made, where another than the option's own was ordered.
    """
    judged = judgements or Judgements.standard()
    made = design or option.design
    asked = {"case": case, "kind": option.kind, "design": made, "judgements": judged}
    covers = option.covers_distance
    before = rerun(**asked, covers_distance=covers)  # type: ignore[arg-type]
    eyes = [
        rerun(**asked, covers_distance=covers, below_mm=eye.below_mm)  # type: ignore[arg-type]
        for eye in (right, left)
    ]
    ordered = before.as_measured
    worn = min(
        (one.as_measured for one in eyes),
        key=lambda one: (round(one.comfortable_h, 6), -one.not_served_h),
    )
    apart_mm = _narrower_mm(option.kind, right, left)
    off = max(abs(value) for eye in (right, left) for value in (eye.below_mm, eye.right_mm))
    added_d = _added_ahead_d(case, option.kind, made, judged)
    return WornEffect(
        comfortable_h_ordered=ordered.comfortable_h,
        comfortable_h_worn=worn.comfortable_h,
        lost_h=ordered.comfortable_h - worn.comfortable_h,
        vertical_imbalance_pd=_imbalance_pd(case, right, left, added_d=added_d),
        horizontal_prism_pd=_sideways_pd(case, right, left, added_d=added_d),
        within_tolerance=off <= WITHIN_MM + _ROUNDING,
        targets=tuple(
            _effect(case, before, after, apart_mm, covers, judged)
            for before, after in zip(ordered.targets, worn.targets, strict=True)
        ),
        advice=advice_for(right=right, left=left, judgements=judged),
    )


def advice_for(
    *, right: CrossError, left: CrossError, judgements: Judgements | None = None
) -> tuple[str, ...]:
    """Return the adjustments that mend it, cheapest first; a remake only after them.

    >>> advice_for(right=CrossError(below_mm=2.0), left=CrossError(below_mm=2.0))[0][:15]
    'Raise the frame'
    """
    rows, judged = tables.by_id("worn_adjustments"), judgements or Judgements.standard()
    return tuple(rows[name]["advice"] for name in _findings(right, left, judged))


def _findings(right: CrossError, left: CrossError, judgements: Judgements) -> list[str]:
    found = []
    mean_mm = (right.below_mm + left.below_mm) / 2
    tilt_mm = right.below_mm - left.below_mm
    if abs(tilt_mm) > WITHIN_MM + _ROUNDING:
        found.append("right_lower" if tilt_mm > 0 else "left_lower")
    if abs(mean_mm) > WITHIN_MM + _ROUNDING:
        found.append("both_low" if mean_mm > 0 else "both_high")
    both_mm, apart_mm = (right.right_mm + left.right_mm) / 2, right.right_mm - left.right_mm
    if abs(both_mm) > WITHIN_MM + _ROUNDING:
        found.append("moved_right" if both_mm > 0 else "moved_left")
    if abs(apart_mm) > WITHIN_MM + _ROUNDING:
        found.append("too_wide_or_narrow")
    if max(abs(mean_mm), abs(tilt_mm), abs(both_mm)) > judgements.pads_mend_mm + _ROUNDING:
        found.append("beyond_adjustment")
    return found or ["nothing"]


def _effect(
    case: Case,
    before: OptionTarget,
    after: OptionTarget,
    apart_mm: float,
    covers_distance: bool,
    judgements: Judgements,
) -> TargetEffect:
    was, now = before.centre.chin_up_deg, after.centre.chin_up_deg
    change = None if was is None or now is None else now - was
    distance_cm = next(one.distance_cm for one in case.targets if one.name == before.target)
    worn_for = [one for one in case.activities if covers_distance or not one.needs]
    spent_h = hours_on(before.target, worn_for)
    stop_mm = stop_mm_of(case, judgements=judgements)
    narrower_cm = apart_mm * (distance_cm * MM_PER_CM + stop_mm) / stop_mm / MM_PER_CM
    return TargetEffect(
        target=before.target,
        chin_up_ordered_deg=was,
        chin_up_worn_deg=now,
        chin_change_deg=change,
        comfortable_share_ordered=before.comfortable_share,
        comfortable_share_worn=after.comfortable_share,
        lost_h=(before.comfortable_share - after.comfortable_share) * spent_h,
        narrower_cm=narrower_cm,
        says=_effect_words(change, now),
    )


def _narrower_mm(kind: str, right: CrossError, left: CrossError) -> float:
    """Return how much less both eyes see clear through together; one power has no zones."""
    return 0.0 if KINDS[kind].is_single_vision else abs(right.right_mm - left.right_mm)


def _effect_words(change: float | None, now: float | None) -> str:
    if now is None:
        return "its centre is blurred in every posture"
    if change is None or abs(change) < 0.5:
        return "the chin stays where it was"
    return f"the chin goes {abs(change):.1f} degrees {'higher' if change > 0 else 'lower'}"


def _added_ahead_d(case: Case, kind: str, design: Design, judgements: Judgements) -> float:
    """Return what the pair adds to the distance power at the fitting point."""
    wearers = scene_of([case], judgements=judgements).wearers
    lens = lens_of(kind, design, case, wearers=wearers, judgements=judgements)
    return float(lens.power_above_d(np.zeros(1), wearers=wearers)[0])


def _imbalance_pd(case: Case, right: CrossError, left: CrossError, *, added_d: float) -> float:
    """Return the vertical prism between the eyes from crosses at unequal heights, straight ahead.

    By the power the gaze meets there: that for distance and what the pair adds to it.
    """
    eyes = ((case.wearer.right, right), (case.wearer.left, left))
    prisms = [
        float(
            prentice_prism_pd(
                power_d=eye.vertical_power_d + added_d, decentration_mm=error.below_mm
            )
        )
        for eye, error in eyes
    ]
    return abs(prisms[0] - prisms[1])


def _sideways_pd(case: Case, right: CrossError, left: CrossError, *, added_d: float) -> float:
    """Return the largest sideways prism both errors can make together, by strongest meridians."""
    eyes = ((case.wearer.right, right), (case.wearer.left, left))
    return sum(
        strongest_meridian_d(with_added_power(eye, added_d=added_d)) * abs(error.right_mm) / 10.0
        for eye, error in eyes
    )
