"""An invented result, for page tests that must not depend on what the engine finds today.

Its numbers are made up to be told apart at a glance; they are not an answer to any case.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from engine.case.model import Case, Design
from engine.case.results import (
    AsGood,
    AsMeasured,
    ClearRange,
    Hours,
    OptionResult,
    OptionTarget,
    PairResult,
    PlanResult,
    Recommendation,
    Result,
    RowResult,
    RuleOfThumb,
    RulesOfThumb,
    Scales,
    TargetResult,
    Told,
    Usable,
)
from tests.kind_table import ROWS

if TYPE_CHECKING:
    from collections.abc import Callable

LENSES: dict[str, tuple[Design, float, float | None]] = {
    "office": (Design(near_add_d=2.0, degression_d=1.0, power_fall="slow"), 0.9, -4.0),
    "general_progressive": (Design(add_d=2.0, corridor_mm=11.0), 0.45, 9.5),
    "sv_computer": (Design(add_d=1.5), 0.8, -4.0),
    "sv_distance": (Design(add_d=0.0), 0.1, None),
}
"""Kind: design, comfortable share, chin-up of the middle row. All invented."""


def invented_result(case: Case, *, progress: Callable[[float], None] | None = None) -> Result:
    """A result of the right form for any case."""
    if progress is not None:
        progress(0.5)
    return Result(
        case_digest=case.digest(),
        usable_accommodation_d=Usable(value=0.5, basis="add"),
        flags=(),
        targets=tuple(_asked(target.name, target.distance_cm) for target in case.targets),
        options=tuple(_option(kind, case) for kind in LENSES),
        plans=tuple(_plan(kind, case) for kind in LENSES),
        recommendation=Recommendation(
            plan="office",
            put_first_by="hours",
            verdict="firm",
            clearly_better_share=0.05,
            expected_loss_h=0.01,
            as_good=(
                AsGood(
                    plan="sv_computer",
                    comfortable_h=round(0.8 * case.day_h, 3),
                    behind_by="shows_more",
                    text="Invented: as good.",
                ),
            ),
            reasons=(Told(id="invented", text="Invented reason: the whole screen is clear."),),
        ),
    )


def _plan(kind: str, case: Case) -> PlanResult:
    design, share, _ = LENSES[kind]
    activities = tuple(activity.name for activity in case.activities)
    hours = _hours(share, case)
    return PlanResult(
        plan=kind,
        pairs=(PairResult(option=kind, design=design, activities=activities),),
        **hours,
        comfortable_range_h=_range(share, case),
        new_pairs=1,
        swaps=0,
        as_measured=Hours(**hours),
    )


def _hours(share: float, case: Case) -> dict[str, float]:
    """The rest of the day is awkward."""
    comfortable_h = round(share * case.day_h, 3)
    return {
        "comfortable_h": comfortable_h,
        "awkward_h": round(case.day_h - comfortable_h, 3),
        "blurred_h": 0.0,
        "not_served_h": 0.0,
    }


def _range(share: float, case: Case) -> tuple[float, float]:
    return round(0.9 * share * case.day_h, 3), round(min(1.1 * share, 1.0) * case.day_h, 3)


def _option(kind: str, case: Case) -> OptionResult:
    design, share, chin = LENSES[kind]
    hours = _hours(share, case)
    return OptionResult(
        option=kind,
        kind=kind,
        design=design,
        equivalent_designs=(design,),
        recommendable=True,
        **hours,
        comfortable_range_h=_range(share, case),
        covers_distance=ROWS[kind]["covers_distance"] == "yes",
        sees_to_cm=100.0,
        as_measured=AsMeasured(
            **hours, targets=tuple(_seen(target.name, share, chin) for target in case.targets)
        ),
        cautions=(Told(id="invented_caution", text="Invented caution: not for driving."),)
        if kind == "office"
        else (),
    )


def _seen(name: str, share: float, chin: float | None) -> OptionTarget:
    rows = tuple(
        RowResult(
            row=row,
            chin_up_deg=chin,
            relaxed_chin_up_deg=chin,
            free_chin_up_deg=-4.0,
            gaze_down_deg=None if chin is None else 10.0 + chin + drop,
            drop_mm=None if chin is None else 4.0 + drop / 2,
            blur_at_free_d=0.4,
        )
        for row, drop in (("top", -8.0), ("centre", 0.0), ("bottom", 8.0))
    )
    return OptionTarget(
        target=name,
        comfortable_share=share,
        awkward_share=1 - share,
        blurred_share=0.0,
        not_served_share=0.0,
        one_posture_share=0.7,
        clear_width_cm=40.0,
        head_turn_deg=0.0,
        clear_range_cm=ClearRange(near=38.0, far=110.0),
        vertical_imbalance_pd=0.1,
        scales=Scales(iso11226="acceptable", rula=2),
        rows=rows,
    )


def _asked(name: str, distance_cm: float) -> TargetResult:
    rule = RuleOfThumb(focus_cm=100.0, error_cm=35.0, error_d=-0.54)
    return TargetResult(
        target=name,
        distance_cm=distance_cm,
        demand_d=100 / distance_cm,
        needed_add_d=100 / distance_cm - 0.5,
        relaxed_add_d=100 / distance_cm,
        declination_deg=10.0,
        blur_limit_d=0.3,
        text_arcmin=16.0,
        rules_of_thumb=RulesOfThumb(half_add=rule, reader_minus_075=rule),
    )


def first_edition(text: str) -> str:
    """An answer as version 1 of the numbers wrote it: three grades, a reserve, a test."""
    content = json.loads(text)
    content["results_version"] = "1"
    for one in content["options"]:
        one["targets"] = one.pop("as_measured")["targets"]
        for target in one["targets"]:
            target["strained_share"] = target.pop("awkward_share") + target.pop("blurred_share")
        del one["sees_to_cm"]
    for one in content["plans"]:
        del one["as_measured"], one["new_pairs"], one["if_not_swapped_h"]
    for one in content["options"] + content["plans"]:
        one["strained_h"] = one.pop("awkward_h") + one.pop("blurred_h")
        one["reserve_h"] = one["comfortable_h"] / 2
        del one["comfortable_range_h"]
    said = content["recommendation"]
    content["recommendation"] = {
        "plan": said["plan"],
        "verdict": "not_computed",
        "winner_share": 0.4,
        "depends_on": {"field": "fit.vertex_mm", "turns_at": 12.0, "unit": "mm"},
        "desk_first": None,
        "reasons": said["reasons"],
        "what_would_change": [],
    }
    return json.dumps(content)
