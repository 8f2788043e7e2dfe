"""What is answered: every frozen result type, and the version of the numbers in it.

`to_json` writes floats to three places, so the same case gives the same bytes.
"""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from engine.case.model import Design

RESULTS_VERSION = "1"
"""Raised whenever the same case may get another number; DEVELOPERS.md says by how much."""

PLACES = 3
Verdict = Literal["firm", "depends", "toss_up", "not_computed"]
Basis = Literal["amplitude", "add", "age", "measured_range", "condition"]


class _Answer(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class FlagResult(_Answer):
    """A doubt about a value that was computed with."""

    field: str
    value: float | str
    range: str
    source: str


class Told(_Answer):
    """A reason or caution: a row of sentences.csv or cautions.csv with its values filled in."""

    id: str
    values: dict[str, Any] = {}
    text: str


class RuleOfThumb(_Answer):
    """What a rule of thumb would order here, and how far off it is."""

    focus_cm: float | None = Field(description="where it focuses, relaxed; null beyond all limits")
    error_cm: float | None = Field(description="focus minus the target's distance")
    error_d: float = Field(description="its power minus the relaxed need")


class RulesOfThumb(_Answer):
    """The two rules most often used."""

    half_add: RuleOfThumb
    reader_minus_075: RuleOfThumb


class TargetResult(_Answer):
    """What one target asks for, whatever the lens."""

    target: str
    distance_cm: float
    demand_d: float
    needed_add_d: float
    relaxed_add_d: float
    declination_deg: float
    blur_limit_d: float
    text_arcmin: float
    rules_of_thumb: RulesOfThumb | None = Field(description="null where no add is known")


class RowResult(_Answer):
    """One row of a target (top, centre or bottom) through one lens."""

    row: Literal["top", "centre", "bottom"]
    chin_up_deg: float | None
    relaxed_chin_up_deg: float | None
    free_chin_up_deg: float
    gaze_down_deg: float | None
    drop_mm: float | None
    blur_at_free_d: float | None


class ClearRange(_Answer):
    """Nearest and farthest clear distance where the target is looked at; null = no limit."""

    near: float | None
    far: float | None


class Scales(_Answer):
    """What two published scales say of the head at the centre row; never part of the grade."""

    iso11226: str | None
    rula: int | None


class OptionTarget(_Answer):
    """One target through one lens."""

    target: str
    comfortable_share: float
    strained_share: float
    not_served_share: float
    one_posture_share: float
    clear_width_cm: float | None
    head_turn_deg: float | None
    clear_range_cm: ClearRange | None
    vertical_imbalance_pd: float | None
    scales: Scales
    rows: tuple[RowResult, ...]


class OptionResult(_Answer):
    """The best lens of one kind, or the pair worn today, over the day."""

    option: str
    kind: str
    design: Design
    equivalent_designs: tuple[Design, ...] = ()
    recommendable: bool
    excluded_by: tuple[str, ...] = ()
    comfortable_h: float
    strained_h: float
    not_served_h: float
    reserve_h: float
    covers_distance: bool
    sees_to_cm: float | None = Field(
        None, description="eyes at rest, straight ahead; null: no limit"
    )
    targets: tuple[OptionTarget, ...]
    cautions: tuple[Told, ...] = ()


class PairResult(_Answer):
    """One pair of a plan and the activities it is worn for."""

    option: str
    design: Design
    activities: tuple[str, ...]


class PlanResult(_Answer):
    """One or more pairs that share the day between them."""

    plan: str
    pairs: tuple[PairResult, ...]
    comfortable_h: float
    strained_h: float
    not_served_h: float
    reserve_h: float
    swaps: int
    cost: float | None = None


class DependsOn(_Answer):
    """The input that moves the answer most and the value at which it turns."""

    field: str
    turns_at: float | None
    unit: str


class DeskFirst(_Answer):
    """A change of desk that comes before any lens, because it is free."""

    target: str
    field: str
    change_cm: float
    option: str
    comfortable_h: float


class Recommendation(_Answer):
    """What to do, how sure, and why."""

    plan: str | None
    verdict: Verdict
    winner_share: float | None = None
    depends_on: DependsOn | None = None
    reasons: tuple[Told, ...] = ()
    desk_first: DeskFirst | None = None
    what_would_change: tuple[Told, ...] = ()


class Usable(_Answer):
    """Usable accommodation and where it comes from."""

    value: float
    basis: Basis


class Result(_Answer):
    """The whole answer to a case."""

    schema_: Literal[1] = Field(1, alias="schema")
    results_version: str = RESULTS_VERSION
    case_digest: str
    usable_accommodation_d: Usable
    provisional: bool = False
    flags: tuple[FlagResult, ...]
    stops: tuple[Told, ...] = Field((), description="red flags: nothing is recommended")
    targets: tuple[TargetResult, ...]
    options: tuple[OptionResult, ...]
    cautions: tuple[Told, ...] = Field((), description="whatever the lens")
    plans: tuple[PlanResult, ...]
    recommendation: Recommendation

    def option(self, name: str) -> OptionResult:
        """The option of that name.

        Raises
            KeyError: there is none.
        """
        for option in self.options:
            if option.option == name:
                return option
        raise KeyError(name)

    def to_json(self) -> str:
        """One JSON object with floats to three places; the same result gives the same bytes."""
        content = _rounded(self.model_dump(mode="json", by_alias=True))
        for option in content["options"]:
            option["design"] = _given(option["design"])
            option["equivalent_designs"] = [_given(one) for one in option["equivalent_designs"]]
        for plan in content["plans"]:
            for pair in plan["pairs"]:
                pair["design"] = _given(pair["design"])
        return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False)


def _given(design: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in design.items() if value is not None}


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, PLACES) + 0.0
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    return [_rounded(inner) for inner in value] if isinstance(value, list) else value
